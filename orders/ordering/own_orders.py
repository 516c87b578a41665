"""What a customer may still do with its own order, and what it waits to be answered."""

from __future__ import annotations

from typing import Final

from django.db.models import Exists, OuterRef, Q, QuerySet
from django.utils.translation import gettext as _

from blendshop.roles import Role
from orders.models import Order, OrderEvent

#: Keys in the data of the events of a question and of its answer.
ASKED: Final = "asked"
ANSWERED: Final = "answered"
ANSWERERS: Final = (Role.REP, Role.OFFICE)


def why_fixed(order: Order) -> str:
    """Why its customer can neither change nor cancel it by itself; empty while it can."""
    if order.status in (Order.Status.REQUESTED, Order.Status.OPEN):
        return ""
    if order.status in Order.ENDED:
        return _("{number} is {status}.").format(
            number=order.number, status=order.get_status_display()
        )
    return _("{number} is planned already; ask us, and we see what can be done.").format(
        number=order.number
    )


def open_questions() -> QuerySet[OrderEvent]:
    """The newest question of each order that nobody has answered since, the oldest first.

    Looked for under orders that are not ended: there are few of them, and of events very many.
    """
    later = OrderEvent.objects.filter(order=OuterRef("order"), pk__gt=OuterRef("pk"))
    answered = later.filter(data__answered=True)
    asked_again = later.filter(data__asked=True)
    going_on = [status for status in Order.Status if status not in Order.ENDED]
    questions = OrderEvent.objects.filter(order__status__in=going_on, data__asked=True)
    waiting = questions.filter(~Exists(answered), ~Exists(asked_again))
    return waiting.select_related("order__company").order_by("pk")


def open_question(order: Order) -> str:
    """What its customer waits to be answered; empty where nothing is."""
    said = order.events.filter(Q(data__asked=True) | Q(data__answered=True)).order_by("-pk")
    newest = said.first()
    return newest.why if newest is not None and newest.data.get(ASKED) else ""
