"""The range of the coming weeks, without a database."""

from datetime import date, timedelta
from decimal import Decimal
from itertools import pairwise

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from orders.buying.expected import Booking, Horizon, growth_of, runs_out_on, weeks_of
from orders.models import SupplierTerms
from orders.planning.working_days import WorkingDays

TODAY = date(2026, 3, 2)
POUNDS = st.integers(0, 10_000).map(Decimal)
BOOKINGS = st.lists(
    st.builds(Booking, st.integers(-9, 70).map(lambda days: TODAY + timedelta(days=days)), POUNDS),
    max_size=6,
)


@settings(max_examples=40, deadline=None)
@given(
    ordered=BOOKINGS,
    standing=BOOKINGS,
    last_year=st.dictionaries(st.integers(0, 7), POUNDS),
    growth=st.sampled_from([Decimal("1.10"), Decimal("1.25"), Decimal("2.00")]),
)
def test_the_range_is_in_order_and_never_below_what_is_booked(ordered, standing, last_year, growth):
    horizon = Horizon(TODAY, 8)
    weeks = weeks_of(
        horizon, ordered=ordered, standing=standing, last_year=last_year, growth=growth
    )
    booked = sum(each.lb for each in (*ordered, *standing) if each.day < horizon.end)
    assert weeks[-1].least == booked
    assert weeks[-1].expected == max(booked, sum(last_year.values()))
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
    assert runs_out_on(weeks, bookings, Decimal(99)) == date(2026, 3, 6)
    assert runs_out_on(weeks, bookings, Decimal(100)) == date(2026, 3, 16)
    assert runs_out_on(weeks, bookings, Decimal(500)) is None


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
