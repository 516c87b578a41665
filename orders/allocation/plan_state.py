"""What a stock plan depends on, in one digest: while it is the same, the plan is current."""

from __future__ import annotations

import hashlib
import json
from collections.abc import Iterable
from datetime import date
from typing import Any, Final

from django.db.models import Count, Max, Model, Q, Sum

from formulas.catalogue_version.keeping import version
from formulas.models import JarTest, JarTestWithdrawal
from orders.inventory.levels import RESERVING, STILL_CHARGING
from orders.models import (
    Batch,
    BatchPart,
    Order,
    PlanAddition,
    PlannedRecipe,
    StockLot,
    StockMovement,
    TargetChange,
)

#: Higher when the same orders, stocks and recipes are planned another way.
_WAY_OF_PLANNING: Final = 1
#: Rows of these are added and never changed: the newest says all.
_WRITTEN_ONCE: Final[tuple[type[Model], ...]] = (
    JarTest,
    JarTestWithdrawal,
    PlanAddition,
    PlannedRecipe,
    StockMovement,
    TargetChange,
)


def plan_state(today: date) -> str:
    """The digest of open orders, lots, batches, recipes, catalogue and jars, as they stand."""
    facts = [
        _WAY_OF_PLANNING,
        today,
        _rows(
            Order.objects.filter(status__in=RESERVING)
            .order_by("pk")
            .annotate(lines_are=Count("lines"), newest=Max("lines"))
            .values_list("pk", "status", "due_on", "lines_are", "newest")
        ),
        _rows(
            BatchPart.objects.live()
            .filter(order_line__order__status__in=RESERVING)
            .order_by("order_line")
            .values_list("order_line")
            .annotate(Sum("quantity"))
        ),
        _rows(
            Batch.objects.filter(status__in=STILL_CHARGING)
            .order_by("pk")
            .annotate(used=Sum("stock_movements__mass_lb"))
            .values_list("pk", "used")
        ),
        _lots(today),
        [_newest(model) for model in _WRITTEN_ONCE],
        version(),
    ]
    return hashlib.sha256(json.dumps(facts, default=str).encode()).hexdigest()


def _rows(rows: Iterable[Any]) -> list[Any]:
    return list(rows)


def _newest(model: type[Model]) -> int | None:
    newest: int | None = model._default_manager.aggregate(newest=Max("pk"))["newest"]
    return newest


def _lots(today: date) -> list[Any]:
    """What may be taken of each stock, and whether there is any lot."""
    usable = Q(expires_on__isnull=True) | Q(expires_on__gte=today)
    free = Sum("on_hand_lb", filter=usable & ~Q(state=StockLot.State.HELD))
    return _rows(
        StockLot.objects.order_by("stock")
        .values("stock")
        .annotate(free=free)
        .values_list("stock", "free")
    )
