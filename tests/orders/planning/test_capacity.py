"""Loads on working days, against tables worked by hand: 480 minutes a day, 240 a load."""

from datetime import date
from decimal import Decimal

import pytest

from orders.planning.capacity import TankDays, TankPace
from orders.planning.working_days import WorkingDays

UREA, IRON = 1, 2  # two recipes that must not meet
LARGE, SMALL = 10, 20


def pace(key, *, smallest=100, capacity=1200, loads_a_day=2, flush=60, in_use=True):
    return TankPace(
        key=key,
        smallest_gal=Decimal(smallest),
        capacity_gal=Decimal(capacity),
        day_min=480,
        load_min=TankPace.minutes_a_load(480, loads_a_day),
        flush_min=flush,
        in_use=in_use,
    )


def tanks(*paces, begin=None):
    return TankDays(paces, lambda before, after, tank: before != after, begin or {})


def test_a_tank_makes_its_loads_of_a_day_and_the_next_one_the_day_after():
    days = tanks(pace(LARGE))
    assert [days.put(LARGE, UREA) for _ in range(5)] == [1, 1, 2, 2, 3]


def test_a_flush_takes_its_minutes_and_nothing_stands_half_made_overnight():
    # Day 1: load 240, flush 300; the next load would end at 540. Day 2: load 240, flush 300.
    days = tanks(pace(LARGE))
    assert [days.put(LARGE, each) for each in (UREA, IRON, UREA, UREA)] == [1, 2, 3, 3]


def test_three_loads_a_day_leave_room_for_a_short_flush_or_do_not():
    # 160 minutes a load: 160 + 60 + 160 = 380 on day 1; the third would end at 540.
    days = tanks(pace(LARGE, loads_a_day=3))
    assert [days.put(LARGE, each) for each in (UREA, IRON, IRON)] == [1, 1, 2]


@pytest.mark.parametrize(("begun", "days_made"), [(False, [1, 2]), (True, [1, 1])])
def test_what_is_in_the_tank_is_flushed_out_unless_the_load_is_begun(begun, days_made):
    days = tanks(pace(LARGE), begin={LARGE: IRON})
    assert [days.put(LARGE, UREA, begun=begun), days.put(LARGE, UREA)] == days_made


def test_a_load_goes_to_the_tank_that_has_it_made_first_of_those_that_take_it():
    days = tanks(pace(LARGE), pace(SMALL, smallest=40, capacity=600))
    # Equal tanks: the smaller one. Then the one that is less used, flushes counted.
    made = [days.put_soonest(UREA, Decimal(530), LARGE) for _ in range(4)]
    assert made == [1, 1, 1, 1]
    assert days.put(SMALL, UREA) == 2
    assert days.copy().put_soonest(UREA, Decimal(50), LARGE) == 2  # only the small one takes it
    assert days.put_all_soonest(UREA, [Decimal(1000)] * 3, LARGE) == 3  # only the large one


def test_a_load_that_no_tank_takes_stays_where_it_is_priced_and_a_tank_out_of_use_gets_none():
    days = tanks(pace(LARGE), pace(SMALL, smallest=1, capacity=600, in_use=False))
    assert [days.put_soonest(UREA, Decimal(5), LARGE) for _ in range(3)] == [1, 1, 2]


def test_trying_out_changes_nothing():
    days = tanks(pace(LARGE))
    tried = days.copy()
    assert [tried.put(LARGE, UREA) for _ in range(3)][-1] == 2
    assert days.put(LARGE, UREA) == 1


@pytest.mark.parametrize(
    ("ordered", "due"),
    [
        # 2026-03-02 is a Monday; seven working days on, weekends not counted.
        (date(2026, 3, 2), date(2026, 3, 11)),
        (date(2026, 3, 6), date(2026, 3, 17)),
        (date(2026, 3, 7), date(2026, 3, 17)),
        (date(2026, 3, 8), date(2026, 3, 17)),
    ],
)
def test_seven_working_days_leave_weekends_out(ordered, due):
    assert WorkingDays({1, 2, 3, 4, 5}, set()).after(ordered, 7) == due


def test_a_closed_day_and_the_plants_own_week_count():
    monday_to_thursday = WorkingDays({1, 2, 3, 4}, {date(2026, 3, 4)})
    assert monday_to_thursday.after(date(2026, 3, 2), 3) == date(2026, 3, 9)
    assert monday_to_thursday.after(date(2026, 3, 2), 0) == date(2026, 3, 2)


def test_a_plant_that_never_works_is_refused():
    with pytest.raises(ValueError, match="at least one day"):
        WorkingDays(set(), set())
