"""What an order would be in other quantities, and whether its customer may still say so."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

from django.utils.translation import gettext as _

from orders.models import Order, PlannedRecipe
from orders.ordering.own_orders import why_fixed
from orders.reordering.preview import Reorder
from orders.reordering.sources import reorder_of_order


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
