"""What is short: stocks that open orders want more of than there is, lots that went away."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import date
from typing import Any

from orders.inventory.levels import Purchase, purchases
from orders.models import Batch, StockLot
from orders.planning.lot_choice import planned_lots
from orders.shift.tanks_today import Begun


@dataclass(frozen=True, slots=True)
class LotGone:
    """A weighing still to come is planned from a lot that may not be used any more."""

    batch: Batch
    step: int
    stock: str
    lot: str


@dataclass(frozen=True, slots=True)
class Short:
    """Stocks to buy, the most urgent first; lots that are held, used up or past their day."""

    purchases: tuple[Purchase, ...]
    lots: tuple[LotGone, ...]

    @property
    def any(self) -> bool:
        return bool(self.purchases or self.lots)


def short_stocks(begun: Iterable[Begun], planned: Iterable[Batch], today: date) -> Short:
    """For batches begun and planned; the plans of these are read in one query."""
    planned = list(planned)
    stored: dict[int, Any] = dict(
        Batch.objects.filter(pk__in=[b.pk for b in planned]).values_list("pk", "plan")
    )
    for batch in planned:
        batch.plan = stored[batch.pk]
    wanted = [
        LotGone(batch, number, batch.load_plan.steps[number - 1].name, lot.code)
        for batch, numbers in _to_weigh(begun, planned)
        for number, lots in planned_lots(batch).items()
        if number in numbers
        for lot in lots
    ]
    codes = {each.lot for each in wanted}
    usable = set(
        StockLot.objects.usable(today).filter(code__in=codes).values_list("code", flat=True)
    )
    gone = tuple(each for each in wanted if each.lot not in usable)
    return Short(tuple(purchases(today)), gone)


def _to_weigh(begun: Iterable[Begun], planned: Iterable[Batch]) -> list[tuple[Batch, set[int]]]:
    """Batches with the steps nothing has gone in for; one with a new target names its own lot."""
    return [
        *((each.batch, {s.number for s in each.to_come if not s.changes}) for each in begun),
        *((batch, set(range(1, len(batch.load_plan.steps) + 1))) for batch in planned),
    ]
