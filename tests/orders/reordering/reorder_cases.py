"""What happens to a plant between an order and its reorder, and a person who confirms one."""

from decimal import Decimal

from formulas.models import BaseStock, StockCost
from orders.reordering.actions import confirm_reorder
from orders.reordering.sources import reorder_of_order
from tests.factories import today


def new_cost(code, amount):
    stock = BaseStock.objects.get(code=code)
    StockCost.objects.create(stock=stock, effective_from=today(), amount=Decimal(amount), unit="lb")


def confirm(order, user, once="one", **changes):
    reorder = changes.pop("reorder", None) or reorder_of_order(order)
    digest = changes.pop("digest", reorder.digest)
    return confirm_reorder(reorder=reorder, acting_user=user, seen_digest=digest, once=once)


def know_what_is_dissolved():
    BaseStock.objects.filter(code="UAN").update(
        solutes="urea 35; NH4NO3 44.5", solutes_source="test data, invented", solutes_mark="demo"
    )
