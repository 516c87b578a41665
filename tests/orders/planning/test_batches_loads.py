"""Tank loads: whole packages, as equal as can be, never above the tank nor below its smallest."""

from decimal import Decimal

import pytest
from hypothesis import given
from hypothesis import strategies as st

from blendshop.errors import BadInput
from orders.models import OrderLine, Package, Tank
from orders.planning.loads import LoadPart, load_gal, split_into_loads

TOTE = Package(name="265 gal tote", kind="tote_sold", fill_gal=Decimal(265))
DRUM = Package(name="55 gal drum", kind="drum", fill_gal=Decimal(55))
BULK = Package(name="bulk tanker", kind="bulk", fill_gal=Decimal(0))


def wanted(quantity, package):
    return LoadPart(OrderLine(package=package), quantity)


def quantities(*parts, tank):
    """Packages of each load, all parts together."""
    return tuple(sum(part.quantity for part in load) for load in split_into_loads(parts, tank))


def tank(capacity_gal, smallest_gal=0):
    return Tank(name="Tank 1", capacity_gal=capacity_gal, smallest_gal=smallest_gal)


@pytest.mark.parametrize(
    ("quantity", "capacity", "loads"),
    [
        (1, 1200, (1,)),
        (4, 1200, (4,)),  # 1,060 gal
        (5, 1200, (3, 2)),  # five do not fit; 3 and 2 rather than 4 and 1
        (9, 1200, (3, 3, 3)),
        (10, 1200, (4, 3, 3)),
        (3, 265, (1, 1, 1)),  # a tank of exactly one tote
    ],
)
def test_totes_are_spread_over_as_few_equal_loads_as_the_tank_allows(quantity, capacity, loads):
    assert quantities(wanted(quantity, TOTE), tank=tank(capacity)) == loads


def test_bulk_is_spread_in_whole_gallons():
    assert quantities(wanted(2500, BULK), tank=tank(1200)) == (834, 833, 833)


def test_a_package_larger_than_the_tank_is_refused_in_a_sentence():
    with pytest.raises(BadInput, match="more than Tank 1 takes") as refused:
        split_into_loads([wanted(1, TOTE)], tank(200))
    assert "tank" in refused.value.fields


def test_a_load_below_the_smallest_of_the_tank_is_refused_in_a_sentence():
    with pytest.raises(BadInput, match="below the 400 gal"):
        split_into_loads([wanted(1, TOTE)], tank(1200, 400))
    with pytest.raises(BadInput, match="265 gal, below the 300 gal"):
        split_into_loads([wanted(3, TOTE)], tank(600, 300))  # 2 and 1: no better split


def test_orders_are_dealt_out_in_the_order_they_are_given():
    first, second, third = (wanted(n, TOTE) for n in (1, 2, 2))
    loads = split_into_loads([first, second, third], tank(1200))
    assert [[(part.line, part.quantity) for part in load] for load in loads] == [
        [(first.line, 1), (second.line, 2)],
        [(third.line, 2)],
    ]


def test_packages_of_different_sizes_share_a_load():
    totes, drums = wanted(3, TOTE), wanted(4, DRUM)
    (load,) = split_into_loads([totes, drums], tank(1200))  # 795 and 220 gal
    assert load == (totes, drums)
    first, second = split_into_loads([totes, drums], tank(800))
    assert load_gal(first) == 530
    assert load_gal(second) == 265 + 220


def test_a_large_package_between_small_ones_needs_no_load_of_air():
    parts = [wanted(1, DRUM), wanted(1, TOTE), wanted(1, DRUM)]
    loads = split_into_loads(parts, tank(330))
    assert [load_gal(load) for load in loads] == [320, 55]


PACKAGES = st.one_of(
    st.just(BULK),
    st.integers(1, 300).map(lambda gal: Package(name="p", kind="drum", fill_gal=Decimal(gal))),
)


@given(
    orders=st.lists(st.tuples(st.integers(1, 40), PACKAGES), min_size=1, max_size=6),
    capacity=st.integers(300, 6000),
)
def test_loads_hold_what_is_wanted_in_its_order_and_fit_the_tank(orders, capacity):
    parts = [wanted(quantity, package) for quantity, package in orders]
    loads = split_into_loads(parts, tank(capacity))
    assert all(load and load_gal(load) <= capacity for load in loads)
    dealt = [part for load in loads for part in load]
    assert [part.line for part in dealt] == sorted(
        (part.line for part in dealt), key=lambda line: [p.line is line for p in parts].index(True)
    )
    for part in parts:
        assert sum(p.quantity for p in dealt if p.line is part.line) == part.quantity


@given(quantity=st.integers(1, 500), package=PACKAGES, capacity=st.integers(300, 6000))
def test_loads_of_one_package_are_as_few_and_as_equal_as_can_be(quantity, package, capacity):
    loads = quantities(wanted(quantity, package), tank=tank(capacity))
    assert sum(loads) == quantity
    assert max(loads) - min(loads) <= 1
    unit = 1 if package.is_bulk else package.fill_gal
    assert (len(loads) - 1) * (capacity // unit) < quantity, "one load fewer would do"
