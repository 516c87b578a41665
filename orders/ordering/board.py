"""The order board: which orders, in which group of due dates."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import date, timedelta
from typing import Any, Final

from django.db.models import Count, Prefetch, Q, QuerySet
from django.utils import timezone
from django.utils.translation import gettext as _

from blendshop.accounts.models import Company, User
from blendshop.accounts.search import named
from blendshop.roles import STAFF, has_role
from orders.inventory.holds import hold_words_by_batch
from orders.labels.standing import LabelState, labels_not_approved
from orders.models import Batch, BatchPart, Order, OrderLine, Paper
from orders.models.order import OrderQuerySet
from orders.ordering.made_lines import made_lines
from orders.ordering.timeline import timeline
from orders.planning.due_dates import read_due_dates
from orders.planning.planned_recipes import made_otherwise
from orders.production.agreement import not_agreed

#: Orders due from today up to this many days ahead stand in the middle group.
NEAR_DAYS: Final = 7
#: States in which somebody still has work with the order.
OPEN_STATES: Final = (Order.Status.OPEN, Order.Status.PLANNED, Order.Status.MADE)


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
        # An order with two matching lines is one order: ask by key, do not join. Nor are customers
        # joined: the database would compare each order with all of them.
        by_blend = OrderLine.objects.filter(revision__blend__name__icontains=text)
        found = (
            Q(number__icontains=text)
            | Q(company__in=named(Company.objects.all(), text))
            | Q(customer_reference__icontains=text)
            | Q(pk__in=by_blend.values("order"))
        )
        orders = orders.filter(found)
    return orders


def for_board(orders: OrderQuerySet) -> OrderQuerySet:
    """Due date first; everything a card shows in a fixed number of queries."""
    lines = OrderLine.objects.select_related("revision__blend", "package").defer(
        "price", "revision__wish", "revision__answer"
    )
    batches = Batch.objects.defer("plan")
    parts = BatchPart.objects.defer("delivery").prefetch_related(Prefetch("batch", batches))
    return (
        orders.select_related("company", "ship_to")
        .prefetch_related(Prefetch("lines", lines), Prefetch("lines__parts", parts))
        .order_by("due_on", "pk")
    )


def by_due_date(orders: Iterable[Order], today: date) -> tuple[DueGroup, ...]:
    """Overdue, due within a week, later; what is no order yet or any more stands apart."""
    last_near = today + timedelta(days=NEAR_DAYS)
    groups: dict[str, list[Order]] = {
        "overdue": [],
        "near": [],
        "later": [],
        "asked": [],
        "closed": [],
    }
    for order in orders:
        if order.status in Order.ENDED:
            groups["closed"].append(order)
        elif order.status == Order.Status.REQUESTED:
            groups["asked"].append(order)
        elif order.due_on < today:
            groups["overdue"].append(order)
        else:
            groups["near" if order.due_on <= last_near else "later"].append(order)
    titles = {
        "overdue": _("Overdue"),
        "near": _("Due within {days} days").format(days=NEAR_DAYS),
        "later": _("Later"),
        "asked": _("Requested, not released"),
        "closed": _("Shipped, cancelled or declined"),
    }
    return tuple(
        DueGroup(key, titles[key], tuple(found))
        for key, found in groups.items()
        if found or key not in ("asked", "closed")
    )


def order_page(order: Order, user: User) -> dict[str, Any]:
    """What the page of one order shows, in a fixed number of queries."""
    is_staff_role = has_role(user, *STAFF)
    lines = list(order.lines.select_related("revision__blend", "package"))
    of_order = BatchPart.objects.filter(order_line__order=order)
    of_labels = Paper.objects.visible_to(user).filter(
        kind=Paper.Kind.LABEL_DRAFT, part__in=of_order
    )
    labels = list(of_labels.listed().select_related("part__batch"))
    papers = Paper.objects.visible_to(user).filter(
        Q(kind=Paper.Kind.CERTIFICATE, part__in=of_order)
        | Q(kind=Paper.Kind.PACKING_LIST, order=order)
    )
    planned = sum(of_order.live().values_list("quantity", flat=True))
    return {
        "order": order,
        "holds": hold_words_by_batch(of_order.live().values_list("batch", flat=True))
        if is_staff_role
        else {},
        "lines": made_lines(lines),
        "not_agreed": not_agreed(order) if order.status == Order.Status.MADE else [],
        "made_otherwise": made_otherwise(lines) if is_staff_role else [],
        "parts": _shown(of_order) if is_staff_role else [],
        "papers": papers.select_related("part__batch", "order").defer("pdf", "snapshot"),
        "labels": labels,
        "has_label_drafts": any(label.is_label_draft for label in labels),
        "not_approved": _not_approved(order) if is_staff_role else [],
        "is_here": order.status in OPEN_STATES,
        "events": order.events.all(),
        "steps": timeline(order, order.events.all()),
        "has_unplanned_lines": planned < sum(line.quantity for line in lines),
        "earliest": too_late([order], timezone.localdate()).get(order.pk)
        if is_staff_role and order.status in OPEN_STATES
        else None,
        "is_overdue": order.status in OPEN_STATES and order.due_on < timezone.localdate(),
    }


def too_late(orders: Iterable[Order], today: date) -> dict[int, date]:
    """The earliest date of each order that cannot be made by its due date, by its id."""
    orders = [order for order in orders if order.status in OPEN_STATES]
    if not orders:  # a page of what has left asks the tanks nothing
        return {}
    earliest = read_due_dates(today).of_orders
    return {
        order.pk: earliest[order.pk]
        for order in orders
        if order.pk in earliest and order.due_on < earliest[order.pk]
    }


def _not_approved(order: Order) -> list[LabelState]:
    """Labels in the way of a made order."""
    if order.status != Order.Status.MADE:
        return []
    parts = BatchPart.objects.filter(order_line__order=order).live().with_label()
    return labels_not_approved(parts)


def holds_on_board(orders: Iterable[Order]) -> dict[int, str]:
    """What stops batches of the orders, by batch; the orders as ``for_board`` fetched them."""
    parts = (part for order in orders for line in order.lines.all() for part in line.parts.all())
    return hold_words_by_batch(part.batch_id for part in parts)


def _shown(parts: QuerySet[BatchPart]) -> QuerySet[BatchPart]:
    """Parts of an order with their batches, how many parts each of those has, and their tanks."""
    shared = Count("batch__parts")
    shown = parts.select_related("batch__tank").annotate(of_parts=shared).order_by("batch", "pk")
    return shown.prefetch_related("packages")
