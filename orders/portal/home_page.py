"""What a customer begins with: what waits for it, how far its orders are, last year's again."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date, timedelta
from typing import Any, Final

from django.db.models import F, Prefetch, Q
from django.utils import timezone

from blendshop.accounts.models import User
from orders.models import CustomerQuestion, Order, OrderLine, Quote
from orders.ordering.timeline import Step, timeline
from orders.portal.lot_papers import find_lots, read_lots

#: How much of each the page shows before it leads to the whole list.
QUOTES_SHOWN: Final = 4
ORDERS_SHOWN: Final = 4
AGAIN_SHOWN: Final = 3
LOTS_SHOWN: Final = 4
QUESTIONS_SHOWN: Final = 3
#: Orders this far back are looked through for what to order again.
_LOOKED_AT: Final = 40
#: An order of about this day of last year stands first.
_SEASON: Final = timedelta(days=45)
_YEAR: Final = timedelta(days=365)
#: What has left is shown for so long beside what is under way.
_JUST_LEFT: Final = timedelta(days=14)
#: So long an answer stands here; afterwards under the questions.
_JUST_ANSWERED: Final = timedelta(days=14)
_NEVER_MADE: Final = (Order.Status.REQUESTED, Order.Status.CANCELLED, Order.Status.DECLINED)


@dataclass(frozen=True, slots=True)
class OrderSteps:
    """An order with how far it is."""

    order: Order
    steps: tuple[Step, ...]


@dataclass(frozen=True, slots=True)
class AgainOffer:
    """An earlier order that can be had again; ``of_last_year`` about this time a year ago."""

    order: Order
    of_last_year: bool


def home_page(user: User, today: date) -> dict[str, Any]:
    """The context of a customer's home, in a fixed number of queries."""
    quotes = waiting_quotes(user, today)
    under_way = _orders(user, today)
    lots = find_lots(user)
    return {
        "quotes": quotes[:QUOTES_SHOWN],
        "more_quotes": max(0, quotes.count() - QUOTES_SHOWN),
        "orders": under_way[:ORDERS_SHOWN],
        "more_orders": max(0, len(under_way) - ORDERS_SHOWN),
        "again": again_offers(user, today) if user.may_order else [],
        "lots": read_lots(lots[:LOTS_SHOWN], user),
        "questions": _questions(user),
        "may_order": user.may_order,
    }


def waiting_quotes(user: User, today: date) -> Any:
    """Quotes a customer has still to answer, the one that ends first on top."""
    sent = Quote.objects.visible_to(user).filter(status=Quote.Status.SENT, valid_until__gte=today)
    return sent.for_list().order_by("valid_until", "pk")


def _orders(user: User, today: date) -> list[OrderSteps]:
    """What is under way by due date, then what has just left."""
    own = Order.objects.visible_to(user)
    left_since = timezone.now() - _JUST_LEFT
    just_left = own.filter(
        status=Order.Status.SHIPPED,
        events__to_status=Order.Status.SHIPPED,
        events__at__gte=left_since,
    )
    shown = own.filter(Q(pk__in=just_left.values("pk")) | ~Q(status__in=Order.ENDED))
    read = shown.prefetch_related(Prefetch("lines", _lines()), "events").order_by("due_on", "pk")
    steps = [OrderSteps(order, timeline(order, order.events.all())) for order in read]
    return sorted(steps, key=lambda each: each.order.status == Order.Status.SHIPPED)


def _questions(user: User) -> list[CustomerQuestion]:
    """What was just answered, then what waits for an answer, the newest on top."""
    asked = CustomerQuestion.objects.visible_to(user).select_related("asked_by", "answered_by")
    since = timezone.now() - _JUST_ANSWERED
    shown = asked.filter(Q(answered_at=None) | Q(answered_at__gte=since))
    return list(shown.order_by(F("answered_at").desc(nulls_last=True), "-pk")[:QUESTIONS_SHOWN])


def again_offers(user: User, today: date) -> list[AgainOffer]:
    """Earlier orders, each load of the same blends once: about this time last year first."""
    made = Order.objects.visible_to(user).exclude(status__in=_NEVER_MADE)
    read = made.select_related("ship_to").prefetch_related(Prefetch("lines", _lines()))
    offers, seen = [], set()
    for order in _by_season(list(read.order_by("-created_at", "-pk")[:_LOOKED_AT]), today):
        same = tuple(
            (line.revision.blend_id, line.package_id, line.quantity) for line in order.lines.all()
        )
        if same not in seen:
            seen.add(same)
            offers.append(AgainOffer(order, _is_of_last_year(order, today)))
    return offers[:AGAIN_SHOWN]


def _by_season(orders: Sequence[Order], today: date) -> list[Order]:
    """The newest first, but before them those of this season a year ago."""
    return sorted(orders, key=lambda order: not _is_of_last_year(order, today))


def _is_of_last_year(order: Order, today: date) -> bool:
    return abs(timezone.localdate(order.created_at) - (today - _YEAR)) <= _SEASON


def _lines() -> Any:
    lines = OrderLine.objects.select_related("revision__blend", "package")
    return lines.defer("price", "revision__wish", "revision__answer")
