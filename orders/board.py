"""The order board: which orders, in which group of due dates."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import date, timedelta
from typing import Any, Final

from django.db.models import Q

from orders.models import Batch, Order
from orders.models.batch import BatchQuerySet
from orders.models.order import OrderQuerySet

#: Orders due from today up to this many days ahead stand in the middle group.
NEAR_DAYS: Final = 7


@dataclass(frozen=True, slots=True)
class DueGroup:
    """One column of the board."""

    key: str
    title: str
    orders: tuple[Order, ...]


def filter_orders(orders: OrderQuerySet, wanted: dict[str, Any]) -> OrderQuerySet:
    """Orders by search text, status (open ones unless asked otherwise) and customer."""
    status = wanted.get("status")
    if not status:
        orders = orders.open()
    elif status != "all":
        orders = orders.filter(status=status)
    if company := wanted.get("company"):
        orders = orders.filter(company=company)
    if text := (wanted.get("q") or "").strip():
        found = (
            Q(number__icontains=text)
            | Q(company__name__icontains=text)
            | Q(customer_reference__icontains=text)
            | Q(lines__revision__blend__name__icontains=text)
        )
        orders = orders.filter(found).distinct()
    return orders


def filter_batches(batches: BatchQuerySet, wanted: dict[str, Any]) -> BatchQuerySet:
    """Batches by search text, status (those with work left unless asked otherwise) and tank."""
    status = wanted.get("status")
    if not status:
        batches = batches.filter(status__in=[Batch.Status.PLANNED, Batch.Status.MADE])
    elif status != "all":
        batches = batches.filter(status=status)
    if tank := wanted.get("tank"):
        batches = batches.filter(tank=tank)
    if text := (wanted.get("q") or "").strip():
        batches = batches.filter(
            Q(number__icontains=text)
            | Q(order_line__order__number__icontains=text)
            | Q(order_line__order__company__name__icontains=text)
            | Q(order_line__revision__blend__name__icontains=text)
        )
    return batches


def by_due_date(orders: Iterable[Order], today: date) -> tuple[DueGroup, ...]:
    """Overdue, due within a week, later; shipped and cancelled orders stand apart."""
    last_near = today + timedelta(days=NEAR_DAYS)
    groups: dict[str, list[Order]] = {"overdue": [], "near": [], "later": [], "closed": []}
    for order in orders:
        if order.status in (Order.Status.SHIPPED, Order.Status.CANCELLED):
            groups["closed"].append(order)
        elif order.due_on < today:
            groups["overdue"].append(order)
        else:
            groups["near" if order.due_on <= last_near else "later"].append(order)
    titles = {
        "overdue": "Overdue",
        "near": f"Due within {NEAR_DAYS} days",
        "later": "Later",
        "closed": "Shipped or cancelled",
    }
    return tuple(
        DueGroup(key, titles[key], tuple(found))
        for key, found in groups.items()
        if found or key != "closed"
    )
