"""Tank loads: whole packages, as equal as can be, never above the tank nor below its smallest."""

from decimal import Decimal

import pytest
from hypothesis import given
from hypothesis import strategies as st

from blendshop.errors import BadInput
from orders.batch_loads import load_volume_gal, split_into_loads
from orders.models import Package, Tank

TOTE = Package(name="265 gal tote", kind="tote_sold", fill_gal=Decimal(265))
BULK = Package(name="bulk tanker", kind="bulk", fill_gal=Decimal(0))


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
    assert split_into_loads(quantity, TOTE, tank(capacity)) == loads


def test_bulk_is_spread_in_whole_gallons():
    assert split_into_loads(2500, BULK, tank(1200)) == (834, 833, 833)


def test_a_package_larger_than_the_tank_is_refused_in_a_sentence():
    with pytest.raises(BadInput, match="more than Tank 1 takes") as refused:
        split_into_loads(1, TOTE, tank(200))
    assert "tank" in refused.value.fields


def test_a_load_below_the_smallest_of_the_tank_is_refused_in_a_sentence():
    with pytest.raises(BadInput, match="below the 400 gal"):
        split_into_loads(1, TOTE, tank(1200, 400))
    with pytest.raises(BadInput, match="265 gal, below the 300 gal"):
        split_into_loads(3, TOTE, tank(600, 300))  # 2 and 1; no better split of whole totes


@given(
    quantity=st.integers(1, 500),
    fill=st.integers(1, 300),
    capacity=st.integers(300, 6000),
    bulk=st.booleans(),
)
def test_loads_add_up_fit_the_tank_and_differ_by_one_package_at_most(
    quantity, fill, capacity, bulk
):
    package = BULK if bulk else Package(name="p", kind="drum", fill_gal=Decimal(fill))
    loads = split_into_loads(quantity, package, tank(capacity))
    assert sum(loads) == quantity
    assert max(load_volume_gal(load, package) for load in loads) <= capacity
    assert max(loads) - min(loads) <= 1
    unit = 1 if bulk else fill
    assert (len(loads) - 1) * (capacity // unit) < quantity, "one load fewer would do"
