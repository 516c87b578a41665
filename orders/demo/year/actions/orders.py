"""The year's orders: accepted quotes and reorders, most of them shipped."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime
from typing import Any, Final

from blendshop.accounts.models import User
from orders.demo.year import batches, calendar
from orders.demo.year.actions.dated import numbers, put_in
from orders.demo.year.actions.people import People
from orders.demo.year.actions.quotes import Offer
from orders.demo.year.blends import RATE
from orders.demo.year.quotes import Fate
from orders.models import Order, OrderEvent, OrderLine
from orders.planning.actions.reservations import reserve_for_order

#: Minutes after midnight at which an order comes in, is planned, made, and leaves.
_ORDERED_AT: Final = 15 * 60
_PLANNED_AT: Final = 15 * 60 + 40
_RELEASED_AT: Final = 9 * 60 + 30
_SHIPPED_AT: Final = 14 * 60
Status = Order.Status


@dataclass(frozen=True, slots=True)
class Placed:
    """An order of the year with its row, its line and the offer it came from."""

    of: batches.Order
    offer: Offer
    order: Order
    line: OrderLine


def add_orders(orders: Sequence[batches.Order], offers: Sequence[Offer]) -> list[Placed]:
    """The orders by their number, with lines and what they reserve; their events come last."""
    given = numbers("O", (each.ordered_on for each in orders))
    by_ask = {id(offer.ask): offer for offer in offers}
    asked = [by_ask[id(each.ask)] for each in orders]
    rows = put_in(
        Order,
        (
            _order(each, offer, number)
            for each, offer, number in zip(orders, asked, given, strict=True)
        ),
    )
    lines = put_in(OrderLine, (_line(offer, row) for offer, row in zip(asked, rows, strict=True)))
    for row in rows:
        reserve_for_order(row)
    return [
        Placed(each, offer, row, line)
        for each, offer, row, line in zip(orders, asked, rows, lines, strict=True)
    ]


def add_events(
    placed: Sequence[Placed],
    loads: Mapping[int, tuple[batches.Load, str]],
    approvals: Mapping[tuple[int, str, int], int],
    people: People,
) -> None:
    """What became of each order, once its batch has a number and its label is approved.

    ``loads`` are by the order's number, ``approvals`` by revision, state and package.
    """
    events = [
        event
        for each in placed
        for event in _events(each, loads.get(each.of.number), approvals, people)
    ]
    put_in(OrderEvent, sorted(events, key=lambda event: event.at))


def _order(each: batches.Order, offer: Offer, number: str) -> Order:
    is_reorder = offer.ask.fate is Fate.REORDERED
    status = Status.OPEN
    if each.made_on is not None:
        status = Status.MADE if each.shipped_on is None else Status.SHIPPED
    return Order(
        number=number,
        quote=offer.quote,
        company=offer.place.company,
        ship_to=offer.place.ship_to,
        status=status,
        due_on=each.due_on,
        customer_reference=f"demo-po-{each.number + 1:03d}",
        placed_by=offer.place.person if is_reorder else None,
        once_key=f"demo-year-{each.number}",
        created_at=calendar.moment(each.ordered_on, _ORDERED_AT),
        total=offer.draft.price.total,
        deposit_total=offer.draft.price.deposit_total,
    )


def _line(offer: Offer, order: Order) -> OrderLine:
    figures = {name: value for name, value in offer.figures.items() if name != "price_per_package"}
    line = OrderLine(
        order=order,
        position=1,
        revision=offer.revision,
        package=offer.place.package,
        quantity=offer.ask.quantity,
        n_rate_lb_per_1000sqft=RATE[offer.ask.blend],
        **figures,
    )
    line.keep_money()
    return line


def _events(
    each: Placed,
    made: tuple[batches.Load, str] | None,
    approvals: Mapping[tuple[int, str, int], int],
    people: People,
) -> Iterator[OrderEvent]:
    order, person = each.order, str(each.offer.place.person)

    def event(
        at: datetime, old: str, new: str, why: str, by: User | None, who: str = "", **more: Any
    ) -> OrderEvent:
        return OrderEvent(
            order=order, at=at, from_status=old, to_status=new, why=why, by=by,
            who=who or str(by), **more,
        )  # fmt: skip

    quote = each.offer.quote
    why = "Ordered again." if quote is None else f"Quote {quote.number} accepted."
    yield event(order.created_at, "", Status.OPEN, why, None, person)
    if made is None:
        return
    load, number = made
    planned = calendar.moment(load.planned_on, _PLANNED_AT)
    why = f"Planned: {number}."
    yield event(planned, Status.OPEN, Status.PLANNED, why, people.plant)
    released = calendar.moment(load.released_on, _RELEASED_AT)
    why = "All batches are released."
    yield event(released, Status.PLANNED, Status.MADE, why, people.plant)
    if each.of.shipped_on is None:
        return
    to = order.ship_to
    approved = approvals[each.line.revision_id, to.state, each.line.package_id]
    data = {"state": to.state, "county": to.county, "label_approvals": [approved]}
    left = calendar.moment(each.of.shipped_on, _SHIPPED_AT)
    yield event(left, Status.MADE, Status.SHIPPED, "", people.plant, data=data)
