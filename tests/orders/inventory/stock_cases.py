"""Lots for tests of the ledger; every figure is invented."""

import itertools
from collections.abc import Mapping
from datetime import date
from decimal import Decimal
from typing import Any

from blendshop.accounts.models import User
from formulas.models import BaseStock
from orders.inventory.actions.lot_quality import Certificate
from orders.inventory.actions.lots import Delivery, receive_lot
from orders.models import Batch, Order, StockLot, Tank
from orders.planning.actions.planning import plan_batches
from tests.factories import today

_keys = itertools.count(1)


def new_key(word: str = "test") -> str:
    """A key nobody has used."""
    return f"{word}-{next(_keys)}"


def make_lot(
    stock: BaseStock,
    by: User,
    mass_lb: Decimal | int | str = 10_000,
    *,
    received_on: date | None = None,
    key: str | None = None,
    figures: Mapping[str, float] | None = None,
    held_reason: str = "",
    **delivery: Any,
) -> StockLot:
    """A received lot; ``figures`` stand on an invented certificate."""
    certificate = Certificate(source="CoA 77, invented", figures=figures) if figures else None
    return receive_lot(
        delivery=Delivery(
            stock=stock,
            mass_lb=Decimal(mass_lb),
            received_on=received_on or today(),
            **delivery,
        ),
        acting_user=by,
        key=key or new_key("receive"),
        certificate=certificate,
        held_reason=held_reason,
        again=as_typed(mass_lb, figures=figures),
    )


def as_typed(
    mass_lb: Decimal | int | str,
    *,
    figures: Mapping[str, float] | None = None,
    density_lb_per_gal: float | None = None,
    **_not_doubted: object,
) -> dict[str, Any]:
    """Every figure a second time, as somebody who looked again and was right gives them."""
    return {
        "mass_lb": Decimal(mass_lb),
        "density_lb_per_gal": density_lb_per_gal,
        **(figures or {}),
    }


def plan(order: Order, by: User) -> list[Batch]:
    """The order planned into its only tank."""
    return plan_batches(order=order, tank=Tank.objects.get(), acting_user=by)
