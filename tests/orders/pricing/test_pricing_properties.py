"""What holds for every price, tried on generated orders. Amounts are generated, not facts."""

from dataclasses import replace
from decimal import Decimal
from itertools import pairwise

from hypothesis import HealthCheck, assume, given, settings
from hypothesis import strategies as st

from orders.pricing import (
    OPEN_STEPS,
    MarginKind,
    PackageKind,
    QuantityBreak,
    QuoteLine,
    StepCode,
    batch_count,
    customer_lines,
    plan_loads,
    price_line,
    price_quote,
)
from tests.orders.pricing.pricing_cases import (
    BULK,
    MINNESOTA,
    delivery,
    policy,
    rates,
    recipe,
    terms,
    tote,
    truck,
    zone,
)

# How long an example takes says nothing about prices, and a busy machine must not fail a test.
unhurried = settings(deadline=None, suppress_health_check=[HealthCheck.too_slow])

TANK_GAL = Decimal(1000)


def amounts(low, high, places):
    """Decimals from ``low`` to ``high``, both whole numbers, with so many places."""
    return st.integers(low * 10**places, high * 10**places).map(lambda n: Decimal(n) / 10**places)


OPEN = st.frozensets(st.sampled_from(sorted(OPEN_STEPS)))
TOTES = st.builds(
    tote,
    kind=st.sampled_from([PackageKind.TOTE_SOLD, PackageKind.TOTE_RETURNED, PackageKind.DRUM]),
    fill=amounts(15, 300, 1),
    tare=amounts(0, 200, 1),
    price=amounts(0, 200, 2),
)
DEPOSIT_TOTES = st.builds(
    tote,
    kind=st.just(PackageKind.TOTE_DEPOSIT),
    price=amounts(0, 30, 2),
    deposit_each=amounts(1, 300, 2),
)
PACKAGES = st.one_of(st.just(BULK), TOTES, DEPOSIT_TOTES)
# Each stock: pounds per gallon of product and dollars a pound; at least 0.1 cent a gallon.
STOCKS = st.lists(
    st.tuples(amounts(1, 4, 3), st.integers(10, 20000).map(lambda n: Decimal(n) / 10000)),
    min_size=1,
    max_size=6,
)
REAL_STOCKS = st.tuples(amounts(1, 4, 3), st.integers(10, 200).map(lambda n: Decimal(n) / 100))


def order(stocks, package, packages, bulk_gal):
    gal = bulk_gal if package.is_bulk else packages * package.fill_gal
    return QuoteLine(
        recipe=recipe(*((lb * gal, cost) for lb, cost in stocks)),
        package=package,
        packages=None if package.is_bulk else packages,
        bulk_gal=bulk_gal if package.is_bulk else None,
        batches=batch_count(gal, TANK_GAL),
        n_pct=Decimal(20),
    )


ORDERS = st.builds(order, STOCKS, PACKAGES, st.integers(1, 40), amounts(1, 12000, 1))
SHOPS = st.builds(
    rates,
    shrink=amounts(0, 5, 2),
    batch=amounts(0, 300, 2),
    gal=amounts(0, 1, 4),
    lab=amounts(0, 100, 2),
    tonnage=st.sampled_from([None, MINNESOTA]),
)
ZONES = st.builds(
    zone,
    load=amounts(0, 900, 2),
    package=amounts(0, 50, 2),
    bulk_gal=amounts(0, 1, 4),
    minimum=amounts(0, 500, 2),
)
DELIVERIES = st.none() | st.builds(
    delivery,
    ZONES,
    deck=st.builds(truck, st.integers(30_000, 70_000)),
    tanker=st.builds(truck, st.just(33_000), capacity_gal=st.just(Decimal(4000))),
)
BREAKS = st.lists(st.integers(100, 9000), max_size=3, unique=True).map(
    lambda starts: tuple(
        QuantityBreak(above_gal=Decimal(start), points_off=Decimal(2 * i + 1))
        for i, start in enumerate(sorted(starts))
    )
)
POLICIES = st.builds(
    policy,
    target=st.integers(6, 60),
    breaks=BREAKS,
    kind=st.sampled_from(MarginKind),
    pass_through=OPEN,
)
TERMS = st.builds(terms, POLICIES, SHOPS, delivery=DELIVERIES, shown_to_customer=OPEN)


@unhurried
@given(ORDERS, TERMS)
def test_the_lines_add_up_to_the_total_to_the_cent(line, conditions):
    price = price_line(line, conditions)
    assert sum(step.amount for step in price.steps) == price.total
    assert price.total == price.price_total + price.deposit_total
    assert all(step.amount.as_tuple().exponent == -2 for step in price.steps)
    assert sum(row.amount for row in price.material) == price.amount(StepCode.MATERIAL)


@unhurried
@given(ORDERS, TERMS)
def test_unit_prices_stay_within_half_a_place_of_the_total(line, conditions):
    price = price_line(line, conditions)
    assert abs(price.price_per_gal - price.price_total / price.volume_gal) <= Decimal("0.00005")
    assert abs(price.price_per_lb - price.price_total / price.mass_lb) <= Decimal("0.00005")


@unhurried
@given(ORDERS, TERMS)
def test_the_customer_pays_the_same_total_and_sees_no_cost_or_margin(line, conditions):
    price = price_line(line, conditions)
    seen = customer_lines(price)
    assert sum(row.amount for row in seen) == price.total
    hidden = {code.value for code in StepCode} - {code.value for code in OPEN_STEPS} - {"deposit"}
    assert not hidden & {row.code for row in seen}


# The quantity break lies exactly at the smaller order, where a discount on all gallons, or on
# the fixed charges, would make the larger order cheaper. Real material costs cents a gallon:
# below that, the rounding of single cents would decide.
@unhurried
@given(
    st.builds(lambda first, rest: [first, *rest], REAL_STOCKS, STOCKS),
    PACKAGES,
    TERMS,
    st.integers(1, 40),
    st.integers(1, 40),
    st.tuples(st.integers(1, 30), st.integers(1, 5), amounts(1, 9000, 1)),
)
def test_more_gallons_never_cost_less_in_total(
    stocks, package, conditions, target, points, quantity
):
    few, more, bulk_gal = quantity
    smaller = order(stocks, package, few, bulk_gal)
    larger = order(stocks, package, few + more, bulk_gal + more)
    a_break = QuantityBreak(above_gal=smaller.volume_gal, points_off=Decimal(min(points, target)))
    conditions = replace(conditions, margin=policy(str(target), breaks=(a_break,)))
    assert price_line(larger, conditions).total >= price_line(smaller, conditions).total


@unhurried
@given(ORDERS, SHOPS, DELIVERIES, st.sampled_from(MarginKind))
def test_a_margin_of_zero_is_a_price_at_cost(line, shop, transport, kind):
    price = price_line(line, terms(policy("0", kind=kind), shop, delivery=transport))
    assert price.amount(StepCode.MARGIN) == 0
    costs = [step.amount for step in price.steps if step.code not in ("margin", "deposit")]
    assert price.price_total == sum(costs)


@unhurried
@given(ORDERS, TERMS, st.randoms(use_true_random=False))
def test_the_order_of_the_recipe_changes_nothing(line, conditions, random):
    shuffled = list(line.recipe)
    random.shuffle(shuffled)
    other = price_line(replace(line, recipe=tuple(shuffled)), conditions)
    price = price_line(line, conditions)
    assert other.steps == price.steps
    assert set(other.material) == set(price.material)


@unhurried
@given(st.lists(ORDERS, min_size=1, max_size=5), TERMS)
def test_a_quote_is_the_sum_of_its_lines_and_its_freight_is_shared_out_whole(lines, conditions):
    quote = price_quote(lines, conditions)
    assert quote.total == sum(line.total for line in quote.lines)
    assert quote.freight_total == sum(line.amount(StepCode.FREIGHT) for line in quote.lines)


@unhurried
@given(
    st.lists(ORDERS, min_size=1, max_size=5),
    st.integers(8_000, 47_000),
    st.none() | st.integers(1, 20),
)
def test_no_load_breaks_the_truck_and_everything_is_on_board_once(lines, payload, places):
    deck = truck(80_000 - payload, package_places=places)
    tanker = truck(80_000 - payload, capacity_gal=Decimal(3000))
    loads = plan_loads(lines, delivery(zone(), deck, tanker))
    carried = [0] * len(lines)
    for load in loads:
        assert load.weight_lb <= payload
        assert places is None or sum(n for _, n in load.packages) <= places
        for index, packages in load.packages:
            carried[index] += packages
        if load.packages:
            weighed = sum(n * lines[i].gross_lb / lines[i].package_count for i, n in load.packages)
            assert abs(weighed - load.weight_lb) < Decimal("1E-9")
    assert carried == [line.package_count for line in lines]
    for index, line in enumerate(lines):
        trips = [load for load in loads if load.bulk_line == index]
        assert bool(trips) == line.package.is_bulk
        if trips:
            assert abs(sum(t.weight_lb for t in trips) - line.mass_lb) < Decimal("1E-9")
            assert line.volume_gal / len(trips) <= 3000


@unhurried
@given(ORDERS, st.integers(8_000, 47_000))
def test_packages_of_one_weight_need_no_more_loads_than_arithmetic_says(line, payload):
    assume(not line.package.is_bulk)
    each = line.gross_lb / line.package_count
    a_load = int(Decimal(payload) // each)
    loads = plan_loads([line], delivery(zone(), truck(80_000 - payload)))
    assert len(loads) == -(-line.package_count // a_load)
    # All loads but the last are full: one more package would break the limit.
    for load, _ in pairwise(loads):
        assert load.weight_lb + each > payload
