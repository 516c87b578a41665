"""Which days are counted, by the names an office has for them."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date, datetime, time, timedelta

from django.db.models import TextChoices
from django.utils import timezone
from django.utils.translation import gettext_lazy as _

_MONTHS_OF_A_QUARTER = 3


class PeriodName(TextChoices):
    THIS_MONTH = "this-month", _("This month")
    LAST_QUARTER = "last-quarter", _("Last quarter")
    LAST_12_MONTHS = "last-12-months", _("Last 12 months")
    THIS_YEAR = "this-year", _("This year")
    DAYS = "days", _("From – to")


@dataclass(frozen=True, slots=True)
class Period:
    """All days from ``first`` through ``last``, in the plant's time zone."""

    name: PeriodName
    first: date
    last: date

    @property
    def begin(self) -> datetime:
        return _midnight(self.first)

    @property
    def end(self) -> datetime:
        """The moment it is over."""
        return _midnight(self.last + timedelta(days=1))

    def days_until(self, today: date) -> int:
        """How many of its days have begun, at least 1."""
        return max(1, (min(self.last, today) - self.first).days + 1)


def named_period(name: PeriodName, today: date) -> Period:
    """The days a name means; calendar months and quarters. ``DAYS`` means none by itself."""
    if name == PeriodName.THIS_MONTH:
        return Period(name, today.replace(day=1), _month_end(today))
    if name == PeriodName.LAST_QUARTER:
        month = today.month - (today.month - 1) % _MONTHS_OF_A_QUARTER
        last = today.replace(month=month, day=1) - timedelta(days=1)
        return Period(name, last.replace(month=last.month - 2, day=1), last)
    if name == PeriodName.THIS_YEAR:
        return Period(name, date(today.year, 1, 1), date(today.year, 12, 31))
    if name == PeriodName.LAST_12_MONTHS:
        is_leap_day = (today.month, today.day) == (2, 29)
        year_ago = today.replace(year=today.year - 1, day=28 if is_leap_day else today.day)
        return Period(name, year_ago + timedelta(days=1), today)
    raise ValueError("Days that are typed have no dates of their own.")


def month_of(day: date) -> Period:
    """The whole month of a day."""
    return Period(PeriodName.DAYS, day.replace(day=1), _month_end(day))


def _month_end(day: date) -> date:
    after = day.replace(day=28) + timedelta(days=4)
    return after.replace(day=1) - timedelta(days=1)


def _midnight(day: date) -> datetime:
    return timezone.make_aware(datetime.combine(day, time.min))
