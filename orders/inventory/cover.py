"""Whether what is on hand and not reserved covers what one more order takes."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date
from decimal import Decimal

from formulas.models import BaseStock
from orders.inventory.levels import FROM_THE_MAIN, ZERO, stock_levels
from orders.models import StockLot


@dataclass(frozen=True, slots=True)
class StockCover:
    """One stock of the order; ``available_lb`` is what no open order has reserved, at least 0.

    None where it comes from the main and cannot run out.
    """

    code: str
    name: str
    needed_lb: Decimal
    available_lb: Decimal | None

    @property
    def short_lb(self) -> Decimal:
        if self.available_lb is None:
            return ZERO
        return max(ZERO, self.needed_lb - self.available_lb)


def stock_cover(
    wanted: Sequence[tuple[str, str, Decimal]], today: date
) -> tuple[StockCover, ...] | None:
    """Code, name and pounds of each stock against what is free; None while no lots are kept."""
    if not StockLot.objects.exists():
        return None
    free = {level.stock.code: max(ZERO, level.available) for level in stock_levels(today)}
    never_out = set(
        BaseStock.objects.filter(traits__code=FROM_THE_MAIN, lots__isnull=True).values_list(
            "code", flat=True
        )
    )
    return tuple(
        StockCover(code, name, lb, None if code in never_out else free.get(code, ZERO))
        for code, name, lb in wanted
    )
