"""Orders that are late, or due today or tomorrow."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import date, timedelta

from blendshop.accounts.models import User
from orders.models import Order
from orders.ordering.board import for_board, holds_on_board


@dataclass(frozen=True, slots=True)
class Due:
    """Open orders by due date; ``holds`` is what stops a batch of them, in words, by its id."""

    late: tuple[Order, ...]
    today: tuple[Order, ...]
    tomorrow: tuple[Order, ...]
    holds: Mapping[int, str]

    @property
    def any(self) -> bool:
        return bool(self.late or self.today or self.tomorrow)


def due_orders(user: User, today: date) -> Due:
    """In a fixed number of queries."""
    tomorrow = today + timedelta(days=1)
    open_ = Order.objects.visible_to(user).open()
    orders = list(for_board(open_.filter(due_on__lte=tomorrow)))
    return Due(
        late=tuple(order for order in orders if order.due_on < today),
        today=tuple(order for order in orders if order.due_on == today),
        tomorrow=tuple(order for order in orders if order.due_on == tomorrow),
        holds=holds_on_board(orders),
    )
