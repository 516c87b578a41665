"""Orders that are late, or due today or tomorrow."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import date, timedelta
from typing import Final

from blendshop.accounts.models import User
from orders.models import Order
from orders.ordering.board import for_board, holds_on_board

#: Of each group; the board of orders has the rest.
_MOST_SHOWN: Final = 12


@dataclass(frozen=True, slots=True)
class DueOrders:
    """The first of ``count`` orders by due date."""

    count: int
    orders: tuple[Order, ...]

    @property
    def more(self) -> int:
        return self.count - len(self.orders)


@dataclass(frozen=True, slots=True)
class Due:
    """Open orders by due date; ``holds`` is what stops a batch of them, in words, by its id."""

    late: DueOrders
    today: DueOrders
    tomorrow: DueOrders
    holds: Mapping[int, str]

    @property
    def any(self) -> bool:
        return bool(self.late.count or self.today.count or self.tomorrow.count)


def due_orders(user: User, today: date) -> Due:
    """In a fixed number of queries."""
    tomorrow = today + timedelta(days=1)
    open_ = Order.objects.visible_to(user).open().filter(due_on__lte=tomorrow)
    due = list(open_.order_by("due_on", "pk").values_list("pk", "due_on"))
    groups = (
        [pk for pk, day in due if day < today],
        [pk for pk, day in due if day == today],
        [pk for pk, day in due if day == tomorrow],
    )
    shown = [pk for group in groups for pk in group[:_MOST_SHOWN]]
    orders = {order.pk: order for order in for_board(Order.objects.filter(pk__in=shown))}
    late, of_today, of_tomorrow = (
        DueOrders(len(group), tuple(orders[pk] for pk in group[:_MOST_SHOWN] if pk in orders))
        for group in groups
    )
    return Due(late, of_today, of_tomorrow, holds_on_board(orders.values()))
