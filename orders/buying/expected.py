"""How much of a stock the coming weeks take: at least, expected, at most. Pure.

The house's own rule (common practice, no source). At least is what is booked. Expected is the
larger of what is booked or planned and what the same weeks took a year ago, each counted from today
to the end of a week: an order that comes a week earlier or later than last year's is not counted
twice. At most is the larger of what is booked or planned and last year's pounds grown as orders
have grown. Planned are season programs that nobody has reserved.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from datetime import date, timedelta
from decimal import Decimal
from typing import Final

#: How many weeks ahead a person may look, and how many unless they say so.
WEEKS_AHEAD: Final = (4, 8, 13, 26)
USUAL_WEEKS: Final = 13
#: The same weeks a year ago begin on the same day of the week.
A_YEAR: Final = timedelta(weeks=52)
#: A year is never taken to be less than so much above the last, nor more; common practice, no
#: source: orders placed early are no measure of a year, and one large customer is none either.
LEAST_GROWTH: Final = Decimal("1.10")
MOST_GROWTH: Final = Decimal("2.00")
ZERO: Final = Decimal("0.000")


@dataclass(frozen=True, slots=True)
class Horizon:
    """So many weeks from today on; what is overdue belongs to the first of them."""

    today: date
    weeks: int

    @property
    def end(self) -> date:
        """The first day after it."""
        return self.first_day(self.weeks)

    def first_day(self, week: int) -> date:
        return self.today + timedelta(weeks=week)

    def week_of(self, day: date) -> int:
        return max(0, (day - self.today).days // 7)


@dataclass(frozen=True, slots=True)
class Booking:
    """Pounds of a stock wanted on a day, by an order or by the round of a standing order."""

    day: date
    lb: Decimal
    order_number: str = ""


@dataclass(frozen=True, slots=True)
class Arrival:
    """Pounds that come in on a day."""

    day: date
    lb: Decimal


@dataclass(frozen=True, slots=True)
class Supply:
    """What is usable today and what comes in; what is late is expected any day, so today."""

    today: date
    usable_lb: Decimal
    arrivals: tuple[Arrival, ...] = ()

    def by(self, day: date) -> Decimal:
        """All that is there by a day if nothing is taken."""
        until = max(day, self.today)
        return self.usable_lb + sum((each.lb for each in self.arrivals if each.day <= until), ZERO)

    def with_arrival(self, one: Arrival) -> Supply:
        return Supply(self.today, self.usable_lb, (*self.arrivals, one))


@dataclass(frozen=True, slots=True)
class Week:
    """What one week takes, and the range from today to its end, all in lb."""

    first_day: date
    ordered: Decimal
    standing: Decimal
    planned: Decimal
    last_year: Decimal
    least: Decimal
    expected: Decimal
    most: Decimal


def growth_of(placed_lb: Decimal, year_ago_lb: Decimal) -> Decimal:
    """Pounds placed lately over those of a year ago, within bounds; the least without a year ago.

    >>> growth_of(Decimal(130), Decimal(100)), growth_of(Decimal(1), Decimal(0))
    (Decimal('1.30'), Decimal('1.10'))
    """
    if year_ago_lb <= 0:
        return LEAST_GROWTH
    grown = round(placed_lb / year_ago_lb, 2)
    return min(MOST_GROWTH, max(LEAST_GROWTH, grown))


def weeks_of(
    horizon: Horizon,
    *,
    ordered: Iterable[Booking],
    standing: Iterable[Booking],
    planned: Iterable[Booking] = (),
    last_year: Mapping[int, Decimal],
    growth: Decimal,
) -> tuple[Week, ...]:
    """Each week of the horizon; ``last_year`` by the number of the week, 0 the first."""
    of_orders, of_standing = _by_week(horizon, ordered), _by_week(horizon, standing)
    of_plans = _by_week(horizon, planned)
    booked = plans = before = ZERO
    found = []
    for number in range(horizon.weeks):
        booked += of_orders.get(number, ZERO) + of_standing.get(number, ZERO)
        plans += of_plans.get(number, ZERO)
        before += last_year.get(number, ZERO)
        found.append(
            Week(
                first_day=horizon.first_day(number),
                ordered=of_orders.get(number, ZERO),
                standing=of_standing.get(number, ZERO),
                planned=of_plans.get(number, ZERO),
                last_year=last_year.get(number, ZERO),
                least=booked,
                expected=max(booked + plans, before),
                most=max(booked + plans, round(before * growth, 3)),
            )
        )
    return tuple(found)


def runs_out_on(weeks: Sequence[Week], bookings: Iterable[Booking], supply: Supply) -> date | None:
    """The day on which more is expected to be taken than there is by then.

    Where bookings alone take it, the day of the first that finds too little; else the first day
    of the week, as nobody knows the day of what is only expected.
    """
    short = next((each for each in weeks if each.expected > supply.by(_last_day(each))), None)
    end = _last_day(weeks[-1])
    taken, booked_out = ZERO, None
    for booking in sorted(bookings, key=lambda each: each.day):
        taken += booking.lb
        if taken > supply.by(booking.day):
            booked_out = booking.day
            break
    if booked_out is not None and booked_out > end:
        booked_out = None
    if short is None or short.least > supply.by(_last_day(short)):
        return booked_out
    return min(booked_out, short.first_day) if booked_out else short.first_day


def _last_day(week: Week) -> date:
    return week.first_day + timedelta(days=6)


def _by_week(horizon: Horizon, bookings: Iterable[Booking]) -> dict[int, Decimal]:
    found: dict[int, Decimal] = {}
    for booking in bookings:
        if booking.day < horizon.end:
            week = horizon.week_of(booking.day)
            found[week] = found.get(week, ZERO) + booking.lb
    return found
