"""What waits today: some of the year's open orders are planned, behind the demo's own loads."""

from __future__ import annotations

from typing import Final

from blendshop.accounts.models import User
from orders.demo import plant
from orders.models import Order, Tank
from orders.planning.actions.planning import plan_batches

_PLANNED: Final = 4


def plan_what_is_open() -> None:
    """The open orders that are due first, in the large tank."""
    tank = Tank.objects.get(name=plant.TANKS[1]["name"])
    (worker,) = User.objects.filter(email="plant@thistleford.example")
    waiting = Order.objects.filter(status=Order.Status.OPEN, once_key__startswith="demo-year-")
    for order in waiting.order_by("due_on", "pk")[:_PLANNED]:
        plan_batches(order=order, tank=tank, acting_user=worker)
