"""By when something can be made and released: the earliest date anybody may honestly promise.

One reading (``read_due_dates``) answers for a wish, for lines of a quote and for every open order,
so that a page asks once. A date for something new is never before the plant's usual lead time.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import date
from functools import cached_property
from typing import Final

from django.utils.translation import gettext_lazy as _

from orders.models import ClosedDay, OrderLine, PlantProfile, QuoteLine
from orders.planning.backlog import Backlog, WantedBlend, read_backlog
from orders.planning.recipe_meetings import recipe_shares_pct
from orders.planning.working_days import WorkingDays

#: What stands beside a date, because the plant keeps no lead times of its suppliers.
FROM_STOCK: Final = _("From stock on hand: time to buy stock is not counted.")


@dataclass(frozen=True, slots=True)
class DueDate:
    """``due_on`` is the later of ``released_on``, after the last load, and ``usual_on``.

    ``made_on`` is the day of the last load, ``usual_on`` the plant's lead time after today.
    """

    made_on: date
    released_on: date
    usual_on: date

    @property
    def due_on(self) -> date:
        return max(self.released_on, self.usual_on)

    @property
    def is_later_than_usual(self) -> bool:
        """Whether the tanks are what it waits for."""
        return self.released_on > self.usual_on


@dataclass(frozen=True)
class DueDates:
    """The dates of one moment: what is open, and the days on which the plant works."""

    today: date
    profile: PlantProfile
    calendar: WorkingDays
    backlog: Backlog

    def of(self, wanted: Sequence[WantedBlend]) -> DueDate:
        """When all of it is made after everything that is open, and released."""
        made = self.backlog.day_made(wanted)
        return DueDate(
            made_on=self._day(made),
            released_on=self._released(made),
            usual_on=self._day(self.profile.lead_time_working_days),
        )

    def of_lines(self, lines: Sequence[OrderLine | QuoteLine]) -> DueDate:
        """The same of lines that are not in an order yet."""
        shares = recipe_shares_pct(line.revision_id for line in lines)
        return self.of(
            [WantedBlend(line.package, line.quantity, shares[line.revision_id]) for line in lines]
        )

    @cached_property
    def of_orders(self) -> Mapping[int, date]:
        """When each open order is released, by its id; the order's own loads in their places.

        An order of which nothing is left to make and release is not in it.
        """
        order_days = self.backlog.order_days
        released = {day: self._released(day) for day in set(order_days.values())}
        return {order: released[day] for order, day in order_days.items()}

    def _released(self, made: int) -> date:
        return self._day(made + self.profile.release_working_days)

    def _day(self, number: int) -> date:
        return self.calendar.after(self.today, number)


def read_due_dates(today: date) -> DueDates:
    """The orders, loads, tanks and working days of this minute."""
    profile = PlantProfile.load()
    return DueDates(today, profile, _working_days(profile, today), read_backlog(profile))


def _working_days(profile: PlantProfile, today: date) -> WorkingDays:
    """From today on; days behind us are not asked for."""
    closed = ClosedDay.objects.filter(day__gt=today).values_list("day", flat=True)
    return WorkingDays(frozenset(map(int, profile.working_weekdays)), frozenset(closed))
