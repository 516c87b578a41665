"""When what the large plant did happened: one year after the other, up to yesterday."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date, datetime, time, timedelta
from typing import Final

from django.utils import timezone

from orders.demo.large.size import spread
from orders.models import Order

#: How far back it goes.
DAYS: Final = 1095
#: Of the orders so many in a hundred left by the day they were due.
_ON_TIME: Final = 0.88
_LATEST_DAYS: Final = 12


@dataclass(frozen=True, slots=True)
class OrderTimes:
    """The moments of one order, in their order; ``left`` is of one that was shipped."""

    sent: datetime
    placed: datetime
    planned: datetime
    made: datetime
    left: datetime


def order_times(number: int, due_on: date, status: Order.Status, today: date) -> OrderTimes:
    """Of the order of a running number: two weeks from its placing to its day, now and then more.

    Nothing lies later than yesterday: what is still to be made was placed by then.
    """
    yesterday = today - timedelta(days=1)
    late = 0 if spread(number) < _ON_TIME else 1 + int(spread(number, 1) * _LATEST_DAYS)
    made_on = due_on - timedelta(days=2)
    if status == Order.Status.MADE:
        made_on = yesterday
    placed_on = min(due_on - timedelta(days=14), yesterday - timedelta(days=6))
    return OrderTimes(
        sent=at_hour(placed_on - timedelta(days=1 + int(spread(number, 2) * 9)), 15),
        placed=at_hour(placed_on, 10),
        planned=at_hour(min(placed_on + timedelta(days=3), yesterday), 8),
        made=at_hour(min(made_on, yesterday), 11),
        left=at_hour(min(due_on + timedelta(days=late), yesterday), 14),
    )


def at_hour(day: date, hour: int) -> datetime:
    """A full hour of a day at the plant."""
    return timezone.make_aware(datetime.combine(day, time(hour)))
