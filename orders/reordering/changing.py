"""A customer changes how much it has ordered, while nothing of it is planned."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from typing import Any, Final

from django.db import transaction
from django.utils.translation import gettext as _

from blendshop.accounts.models import Company, User
from blendshop.errors import ChangedMeanwhile, IllegalMove
from blendshop.roles import Role, require_role
from orders.models import Order, OrderLine, PlannedRecipe, StockReservation
from orders.ordering.actions import require_may_order_for, tell_of_order
from orders.ordering.own_orders import why_fixed
from orders.planning.actions.reservations import reserve_for_order
from orders.records.moves import move, note
from orders.reordering.actions import (
    order_lines,
    own_price,
    require_as_shown,
    require_date_as_shown,
)
from orders.reordering.gate import reasons_to_keep
from orders.reordering.preview import Reorder
from orders.reordering.sources import reorder_of_order

#: What a line takes over from the one that is worked out anew.
_TAKEN_OVER: Final = (
    "revision",
    "quantity",
    "volume_gal",
    "mass_lb",
    "price",
    "price_per_gal",
    "line_total",
    "deposit",
)


def why_not_changed(order: Order) -> str:
    """Why its customer cannot change the quantities by itself, in a sentence; empty if it can."""
    if fixed := why_fixed(order):
        return fixed
    if order.quote_id is not None:
        return _("{number} is at the price of a quote; ask us for other quantities.").format(
            number=order.number
        )
    if PlannedRecipe.objects.filter(order_line__order=order).exists():
        return _("We have begun to plan {number}; ask us for other quantities.").format(
            number=order.number
        )
    return ""


def changed_order(order: Order, quantities: Sequence[int]) -> Reorder:
    """The order in other quantities at today's prices. Less of it keeps the date it has."""
    wanted = reorder_of_order(order, quantities=quantities)
    before = [line.quantity for line in order.lines.all()]
    is_no_more = all(now <= was for now, was in zip(quantities, before, strict=True))
    if wanted.due_on is None or not is_no_more:
        return wanted
    return replace(wanted, due_on=order.due_on)


def change_order(
    *, order: Order, quantities: Sequence[int], acting_user: User, seen_digest: str
) -> Order:
    """Other quantities, as they were shown; above the limits the order is a request (again)."""
    require_role(acting_user, Role.CUSTOMER)
    require_may_order_for(acting_user, order.company)
    with transaction.atomic():
        Company.objects.select_for_update().get(pk=order.company_id)
        order = Order.objects.select_for_update(of=("self",)).get(pk=order.pk)
        if told := why_not_changed(order):
            raise IllegalMove(told)
        offer = changed_order(order, quantities)
        require_as_shown(offer, seen_digest)
        total, deposit_total = own_price(offer)
        held_because = reasons_to_keep(offer, but=order)
        lines = order_lines(offer, acting_user)
        if offer.due_on != order.due_on:
            require_date_as_shown(offer, lines)
        before = [line.quantity for line in order.lines.all()]
        _write(order, lines)
        columns: dict[str, Any] = {
            "total": total,
            "deposit_total": deposit_total,
            "held_because": list(held_because),
            "due_on": max(order.due_on, offer.due_on or order.due_on),
        }
        _settle(order, columns, f"Quantities {before} changed to {list(quantities)}.", acting_user)
        tell_of_order(order, acting_user)
    return order


def _write(order: Order, lines: Sequence[OrderLine]) -> None:
    for line, anew in zip(order.lines.all(), lines, strict=True):
        for name in _TAKEN_OVER:
            setattr(line, name, getattr(anew, name))
        line.save()


def _settle(order: Order, columns: dict[str, Any], why: str, acting_user: User) -> None:
    """The order's own columns, its state, and what it reserves."""
    to = Order.Status.REQUESTED if columns["held_because"] else Order.Status.OPEN
    told = " ".join([why, *columns["held_because"]])
    if order.status != to:
        move(order, to, acting_user=acting_user, why=told, **columns)
    else:
        if not Order.objects.filter(pk=order.pk, status=order.status).update(**columns):
            raise ChangedMeanwhile(_("Somebody else changed the order meanwhile; look again."))
        for name, value in columns.items():
            setattr(order, name, value)
        note(order, acting_user=acting_user, why=told)
    StockReservation.objects.filter(order_line__order=order).delete()
    if to == Order.Status.OPEN:
        reserve_for_order(order)
