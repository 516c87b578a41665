"""What waits and what was told: requests, questions, notices, and edits the change log tells."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import date, timedelta
from typing import Any, Final

from blendshop.accounts.models import Company, User
from blendshop.notices.models import Notice
from orders.demo.large.actions.business import WHY, Asked
from orders.demo.large.size import PlantSize
from orders.demo.large.times import DAYS, at_hour
from orders.demo.year.actions.dated import put_in
from orders.models import CustomerTerms, Order, OrderEvent, OrderLine, ShipTo
from orders.records.numbering import next_numbers

AT_ONCE: Final = 1_000
#: Of so many orders one more is a request that waits, and of so many open ones one was asked about.
_REQUESTED: Final = 300
_ASKED: Final = 8
#: A person of the plant was told of something so often, as a share of the orders.
_TOLD: Final = 10


def add_requests(size: PlantSize, lines: Sequence[tuple[OrderLine, Asked]], today: date) -> None:
    """Requests of customers, like the newest orders, and questions about open ones."""
    like = lines[-max(1, size.orders // _REQUESTED) :]
    at = at_hour(today - timedelta(days=1), 16)
    orders = [
        Order(
            number=number,
            company_id=line.order.company_id,
            ship_to_id=line.order.ship_to_id,
            status=Order.Status.REQUESTED,
            due_on=today + timedelta(days=21),
            created_at=at,
            held_because=["Nobody has reviewed the recipe."],
            total=line.order.total,
            deposit_total=line.order.deposit_total,
        )
        for number, (line, _asked) in zip(next_numbers("O", len(like)), like, strict=True)
    ]
    put_in(Order, orders)
    OrderLine.objects.bulk_create(
        [_line_of(order, line) for order, (line, _asked) in zip(orders, like, strict=True)]
    )
    put_in(OrderEvent, [_event(order, at, "", Order.Status.REQUESTED, {}) for order in orders])
    asked = [line.order for line, _asked in lines[-size.open_orders :: _ASKED]]
    put_in(
        OrderEvent,
        [_event(order, at, order.status, order.status, {"asked": True}) for order in asked],
    )


def add_notices(size: PlantSize, people: Sequence[User], today: date) -> None:
    """Very many notices for each person of the plant; those of the last week are not read."""
    each = max(10, size.orders // _TOLD)
    rows = []
    for person in people:
        for nth in range(each, 0, -1):
            days_ago = nth * DAYS // each
            at = at_hour(today - timedelta(days=days_ago), 9)
            rows.append(
                Notice(
                    person=person,
                    kind="request_waits",
                    text=f"Demo notice {nth}",
                    link="/orders/",
                    at=at,
                    read_at=at + timedelta(hours=3) if days_ago > 7 else None,
                )
            )
    Notice.objects.bulk_create(rows, AT_ONCE)


def add_edits(office: User, today: date) -> None:
    """The kept rows of how customers, their terms and places began, over the years."""
    for model in (Company, CustomerTerms, ShipTo):
        kept: Any = model.history
        for nth, row in enumerate(rows := list(model._default_manager.order_by("pk"))):
            days_ago = 1 + (len(rows) - nth) * DAYS // len(rows)
            row._history_date = at_hour(today - timedelta(days=days_ago), 9)
        kept.bulk_history_create(rows, batch_size=AT_ONCE, default_user=office)


def _line_of(order: Order, like: OrderLine) -> OrderLine:
    values = {
        field.attname: getattr(like, field.attname)
        for field in OrderLine._meta.concrete_fields
        if not field.primary_key and field.name != "order"
    }
    return OrderLine(order=order, **values)


def _event(order: Order, at: Any, old: str, new: str, data: dict[str, object]) -> OrderEvent:
    return OrderEvent(
        order=order, at=at, who="Demo-Owner", from_status=old, to_status=new, why=WHY, data=data
    )
