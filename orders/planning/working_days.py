"""On which days the plant works: days of the week, less the days it is closed. Pure."""

from __future__ import annotations

from collections.abc import Set
from dataclasses import dataclass
from datetime import date, timedelta

_DAY = timedelta(days=1)


@dataclass(frozen=True, slots=True)
class WorkingDays:
    """``weekdays`` as ``date.isoweekday`` counts them (Monday 1); ValueError without one."""

    weekdays: Set[int]
    closed: Set[date]

    def __post_init__(self) -> None:
        if not self.weekdays & set(range(1, 8)):
            raise ValueError("A plant works on at least one day of the week.")

    def works_on(self, day: date) -> bool:
        return day.isoweekday() in self.weekdays and day not in self.closed

    def after(self, day: date, count: int) -> date:
        """The working day that is so many after ``day``; ``day`` itself for 0."""
        for _ in range(count):
            day += _DAY
            while not self.works_on(day):
                day += _DAY
        return day

    def before(self, day: date, count: int) -> date:
        """The working day that is so many before ``day``; ``day`` itself for 0."""
        for _ in range(count):
            day -= _DAY
            while not self.works_on(day):
                day -= _DAY
        return day
