"""Working days and hours of the fourteen months."""

from __future__ import annotations

from collections.abc import Iterator
from datetime import date, datetime, time, timedelta
from typing import Final

from django.utils import timezone

#: How far back it goes, days.
DAYS: Final = 426
_SATURDAY: Final = 5
#: How busy a month is beside the others: spring, and less of it again in early fall. Invented.
BUSY: Final = (0.35, 0.7, 1.5, 1.9, 1.7, 1.3, 0.7, 1.2, 1.5, 1.1, 0.5, 0.3)


def first_day(today: date) -> date:
    """The first working day of the demo's year."""
    return next(_weekdays_from(today - timedelta(days=DAYS)))


def working_days(today: date) -> list[date]:
    """All of the year, the last one before today."""
    days = []
    for day in _weekdays_from(first_day(today)):
        if day >= today:
            break
        days.append(day)
    return days


def after(day: date, count: int) -> date:
    """So many working days later, or earlier below 0."""
    step = timedelta(days=1 if count >= 0 else -1)
    left = abs(count)
    while left:
        day += step
        left -= day.weekday() < _SATURDAY
    return day


def moment(day: date, minutes: int) -> datetime:
    """So many minutes after midnight at the plant."""
    at = datetime.combine(day, time()) + timedelta(minutes=minutes)
    return timezone.make_aware(at)


def _weekdays_from(day: date) -> Iterator[date]:
    while True:
        if day.weekday() < _SATURDAY:
            yield day
        day += timedelta(days=1)
