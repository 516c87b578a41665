"""How far an order is, as its customer reads it: each step with its day."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import date
from typing import Final

from django.utils import timezone
from django.utils.translation import gettext_lazy as _

from orders.models import Order, OrderEvent

Status = Order.Status
#: Each step by the state it leads to, in their order; asked is where every order begins.
_STEPS: Final = (
    ("", _("Asked")),
    (Status.OPEN, _("Confirmed")),
    (Status.PLANNED, _("Planned")),
    (Status.MADE, _("Made")),
    (Status.SHIPPED, _("Shipped")),
)
_REACHED: Final = {
    Status.REQUESTED: 0,
    Status.OPEN: 1,
    Status.PLANNED: 2,
    Status.MADE: 3,
    Status.SHIPPED: 4,
}


@dataclass(frozen=True, slots=True)
class Step:
    """``on`` is the day it was done, ``by`` when an open one is due; ``is_end`` ends it early."""

    name: str
    is_done: bool
    on: date | None = None
    by: date | None = None
    is_next: bool = False
    is_end: bool = False


def timeline(order: Order, events: Iterable[OrderEvent]) -> tuple[Step, ...]:
    """The steps of an order. Days are those of its events; the due date stands at the last step.

    A step that was taken back (a plan that was given up) is open again. An order that was
    cancelled or declined ends with that and has no open steps.
    """
    days = _days(events)
    days[""] = timezone.localdate(order.created_at)
    if order.status in (Status.CANCELLED, Status.DECLINED):
        begun = [Step(str(name), is_done=True, on=days[to]) for to, name in _STEPS if to in days]
        ended = Step(
            order.get_status_display().capitalize(),
            is_done=True,
            on=days.get(order.status),
            is_end=True,
        )
        return (*begun, ended)
    reached = _REACHED[Status(order.status)]
    steps = []
    for place, (to, name) in enumerate(_STEPS):
        is_done = place <= reached
        steps.append(
            Step(
                str(name),
                is_done=is_done,
                on=days.get(to) if is_done else None,
                by=order.due_on if to == Status.SHIPPED and not is_done else None,
                is_next=place == reached + 1,
            )
        )
    return tuple(steps)


def _days(events: Iterable[OrderEvent]) -> dict[str, date]:
    """The day of the newest move into each state. Confirmed is confirmed once, whatever is
    planned and taken back afterwards."""
    days: dict[str, date] = {}
    for event in events:
        if event.from_status == event.to_status:
            continue
        if event.to_status == Status.OPEN and event.from_status not in ("", Status.REQUESTED):
            continue
        days[event.to_status] = timezone.localdate(event.at)
    return days
