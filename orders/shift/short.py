"""What is short: stocks that open orders want more of than there is, lots that went away."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from datetime import date

from orders.inventory.levels import Purchase, purchases
from orders.models import Batch, StockLot
from orders.planning.read_plans import read_plans
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
    waiting, begun = list(planned), list(begun)
    plans = read_plans([*(each.batch for each in begun), *waiting])
    wanted = [
        LotGone(batch, number, step.name, lot)
        for batch, numbers in _to_weigh(begun, waiting)
        for number, step in enumerate(plans[batch.pk].steps, start=1)
        if numbers is None or number in numbers
        for lot in step.lots
    ]
    codes = {each.lot for each in wanted}
    usable = set(
        StockLot.objects.usable(today).filter(code__in=codes).values_list("code", flat=True)
    )
    gone = tuple(each for each in wanted if each.lot not in usable)
    return Short(tuple(purchases(today)), gone)


def _to_weigh(
    begun: Iterable[Begun], planned: Iterable[Batch]
) -> Iterator[tuple[Batch, set[int] | None]]:
    """Batches with the steps nothing has gone in for, None: all of them.

    A step with a new target names its own lot.
    """
    for each in begun:
        yield each.batch, {step.number for step in each.to_come if not step.changes}
    for batch in planned:
        yield batch, None
