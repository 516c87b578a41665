"""The range of the coming weeks, without a database."""

from datetime import date, timedelta
from decimal import Decimal
from itertools import pairwise

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from orders.buying.expected import (
    Arrival,
    Booking,
    Horizon,
    Supply,
    growth_of,
    runs_out_on,
    weeks_of,
)
from orders.buying.in_parts import Sold, in_parts
from orders.models import SupplierTerms
from orders.planning.working_days import WorkingDays

TODAY = date(2026, 3, 2)


def supply(lb: int, *arrivals: Arrival) -> Supply:
    return Supply(TODAY, Decimal(lb), arrivals)


POUNDS = st.integers(0, 10_000).map(Decimal)
BOOKINGS = st.lists(
    st.builds(Booking, st.integers(-9, 70).map(lambda days: TODAY + timedelta(days=days)), POUNDS),
    max_size=6,
)


@settings(max_examples=40, deadline=None)
@given(
    ordered=BOOKINGS,
    standing=BOOKINGS,
    planned=BOOKINGS,
    last_year=st.dictionaries(st.integers(0, 7), POUNDS),
    growth=st.sampled_from([Decimal("1.10"), Decimal("1.25"), Decimal("2.00")]),
)
def test_the_range_is_in_order_and_never_below_what_is_booked(
    ordered, standing, planned, last_year, growth
):
    horizon = Horizon(TODAY, 8)
    weeks = weeks_of(
        horizon,
        ordered=ordered,
        standing=standing,
        planned=planned,
        last_year=last_year,
        growth=growth,
    )
    booked = sum(each.lb for each in (*ordered, *standing) if each.day < horizon.end)
    plans = sum(each.lb for each in planned if each.day < horizon.end)
    assert weeks[-1].least == booked
    assert weeks[-1].expected == max(booked + plans, sum(last_year.values()))
    for week in weeks:
        assert week.least <= week.expected <= week.most
    for before, after in pairwise(weeks):
        assert before.expected <= after.expected
        assert before.most <= after.most


def test_an_order_a_week_earlier_than_last_years_is_not_counted_twice():
    weeks = weeks_of(
        Horizon(TODAY, 4),
        ordered=[Booking(TODAY, Decimal(1000))],
        standing=[],
        last_year={1: Decimal(1000)},
        growth=Decimal("1.10"),
    )
    assert [week.expected for week in weeks] == [1000] * 4
    assert weeks[-1].most == 1100


def test_what_is_only_expected_runs_out_on_the_first_day_of_its_week():
    bookings = [Booking(TODAY + timedelta(days=4), Decimal(100))]
    asked = {"ordered": bookings, "standing": [], "growth": Decimal("1.10")}
    weeks = weeks_of(Horizon(TODAY, 4), last_year={2: Decimal(500)}, **asked)
    assert runs_out_on(weeks, bookings, supply(99)) == date(2026, 3, 6)
    assert runs_out_on(weeks, bookings, supply(100)) == date(2026, 3, 16)
    assert runs_out_on(weeks, bookings, supply(500)) is None


@pytest.mark.parametrize(
    ("comes_on", "out"),
    [
        (date(2026, 3, 5), date(2026, 3, 16)),  # the day before the order, which it covers
        (date(2026, 3, 7), date(2026, 3, 6)),  # the day after
        (date(2026, 2, 1), date(2026, 3, 16)),  # late: expected any day
    ],
)
def test_what_is_on_the_way_counts_from_the_day_it_comes(comes_on, out):
    bookings = [Booking(TODAY + timedelta(days=4), Decimal(100))]
    asked = {"ordered": bookings, "standing": [], "growth": Decimal("1.10")}
    weeks = weeks_of(Horizon(TODAY, 4), last_year={2: Decimal(500)}, **asked)
    assert runs_out_on(weeks, bookings, supply(50, Arrival(comes_on, Decimal(50)))) == out


@pytest.mark.parametrize(
    ("storage", "bought"),
    [
        (None, [("2026-03-14", 6000)]),
        (6999, [("2026-03-14", 5500), ("2026-04-18", 500)]),
        (7000, [("2026-03-14", 6000)]),
        # By March 14 a week's 1,000 lb of 2,000 are surely gone; 2,000 fit beside the rest.
        (3000, [("2026-03-14", 2000), ("2026-03-28", 2000), ("2026-04-11", 2000)]),
    ],
)
def test_what_does_not_fit_into_storage_is_bought_in_parts(storage, bought):
    """A thousand pounds a week for 8 weeks, 2,000 usable, sold by 500 lb; worked by hand."""
    each_week = [Booking(TODAY + timedelta(weeks=n, days=6), Decimal(1000)) for n in range(8)]
    expected = weeks_of(
        Horizon(TODAY, 8),
        ordered=[],
        standing=[],
        last_year=dict.fromkeys(range(8), Decimal(1000)),
        growth=Decimal("1.10"),
    )
    terms = SupplierTerms(least_order_lb=Decimal(0), pack_lb=Decimal(500))
    asked = {
        "sold": Sold(terms.pack_lb, terms.packs_for),
        "storage_lb": None if storage is None else Decimal(storage),
        "unusable_lb": Decimal(0),
        "needed_before": lambda day: day - timedelta(days=2),
    }
    parts = in_parts(expected, [], supply(2000), **asked)
    assert [(each.needed_on.isoformat(), each.lb) for each in parts] == bought
    assert not any(each.is_over_storage for each in parts)
    # As orders of the Sunday of each week the same is bought, for the day before the third one.
    orders = weeks_of(
        Horizon(TODAY, 8), ordered=each_week, standing=[], last_year={}, growth=Decimal("1.10")
    )
    booked = in_parts(orders, each_week, supply(2000), **asked)
    assert sum(each.lb for each in booked) == 6000
    assert booked[0].runs_out_on == date(2026, 3, 22)


def test_a_pack_that_does_not_fit_is_bought_and_said_to_be_too_much():
    asked = {"ordered": [Booking(TODAY, Decimal(100))], "standing": [], "last_year": {}}
    weeks = weeks_of(Horizon(TODAY, 4), growth=Decimal("1.10"), **asked)
    terms = SupplierTerms(least_order_lb=Decimal(0), pack_lb=Decimal(500))
    (part,) = in_parts(
        weeks,
        asked["ordered"],
        supply(0),
        sold=Sold(terms.pack_lb, terms.packs_for),
        storage_lb=Decimal(400),
        unusable_lb=Decimal(0),
        needed_before=lambda day: day,
    )
    assert (part.lb, part.is_over_storage) == (500, True)


@pytest.mark.parametrize(
    ("placed", "before", "factor"),
    [("5300", "4240", "1.25"), ("50", "100", "1.10"), ("900", "100", "2.00"), ("900", "0", "1.10")],
)
def test_growth_is_orders_placed_over_those_of_a_year_ago_within_bounds(placed, before, factor):
    assert growth_of(Decimal(placed), Decimal(before)) == Decimal(factor)


@pytest.mark.parametrize(
    ("lb", "packs"), [("1", 3), ("1500", 3), ("1800", 3), ("1800.001", 4), ("2000", 4)]
)
def test_a_purchase_is_whole_packs_and_never_below_the_least_order(lb, packs):
    terms = SupplierTerms(least_order_lb=Decimal(1500), pack_lb=Decimal(600))
    assert terms.packs_for(Decimal(lb)) == packs


def test_working_days_are_counted_back_over_weekends_and_closed_days():
    days = WorkingDays({1, 2, 3, 4, 5}, {date(2026, 3, 6)})
    assert days.before(date(2026, 3, 10), 2) == date(2026, 3, 5)  # Monday 9, then Thursday 5
    assert days.before(date(2026, 3, 10), 0) == date(2026, 3, 10)
