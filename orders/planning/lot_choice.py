"""From which lots a load is to be weighed, and with what figures it is planned.

The first lot to expire that holds enough of a stock by itself is taken; where none does, several
are, the first to expire first. What another open batch is to take counts as taken. What no lot
covers is planned with the stock's typical figures, and the plan says so.
"""

from __future__ import annotations

import math
from collections import defaultdict
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from datetime import date
from typing import Final

from django.db.models import Sum

from formulas.models import BaseStock
from orders.frozen.load_plan import PlannedLot
from orders.inventory.levels import FROM_THE_MAIN, suggested_lots
from orders.models import Batch, Charge, StockLot

#: Batches that still take what their plans name.
_STILL_TO_TAKE: Final = (Batch.Status.PLANNED, Batch.Status.CHARGING)
#: Masses in the ledger are whole thousandths of a pound.
_PLACES: Final = 3
#: Of a division: what a float may lack of a whole one.
_NOISE: Final = 1e-6


@dataclass(frozen=True, slots=True)
class LotOnHand:
    """So much of a lot that no open batch is to take; the certificate's figures over typical."""

    code: str
    free_lb: float
    density_lb_per_gal: float
    analysis: Mapping[str, float]


@dataclass(frozen=True, slots=True)
class Supply:
    """Where one stock of a load comes from; ``typical_lb`` is what no lot covers."""

    lots: tuple[PlannedLot, ...]
    typical_lb: float

    @property
    def lb(self) -> float:
        return sum(lot.weight_lb for lot in self.lots) + self.typical_lb


def lots_on_hand(stocks: Iterable[BaseStock], today: date) -> dict[str, tuple[LotOnHand, ...]]:
    """By stock code the usable lots that are not spoken for, in their order of use.

    The lots are locked until the transaction ends, so that two people who plan at once do not
    both count on the same pounds.
    """
    rows = {row.pk: row for row in stocks}
    list(StockLot.objects.select_for_update().filter(stock__in=rows).order_by("pk"))
    found = suggested_lots(list(rows), today)
    spoken_for = planned_from_lots()
    return {
        rows[pk].code: tuple(
            LotOnHand(lot.code, free, lot.density(), lot.analysis())
            for lot in lots
            if (free := round(float(lot.on_hand_lb) - spoken_for.get(lot.code, 0.0), _PLACES)) > 0
        )
        for pk, lots in found.items()
    }


def planned_from_lots() -> dict[str, float]:
    """Pounds of each lot, by its code, that open batches are still to take by their plans."""
    batches = list(Batch.objects.filter(status__in=_STILL_TO_TAKE))
    charged = {
        (batch, lot): float(lb)
        for batch, lot, lb in Charge.objects.filter(
            batch__in=batches, lot__isnull=False, reversal__isnull=True
        )
        .order_by()
        .values_list("batch", "lot__code")
        .annotate(Sum("mass_lb"))
    }
    wanted: dict[tuple[int, str], float] = defaultdict(float)
    for batch in batches:
        for step in batch.load_plan.steps:
            for lot in step.lots:
                wanted[batch.pk, lot.code] += lot.weight_lb
    left: dict[str, float] = defaultdict(float)
    for (batch_pk, code), lb in wanted.items():
        left[code] += max(0.0, lb - charged.get((batch_pk, code), 0.0))
    return left


def planned_lots(batch: Batch) -> dict[int, tuple[PlannedLot, ...]]:
    """The lots a batch's plan names, by the number of the step."""
    return {number: step.lots for number, step in enumerate(batch.load_plan.steps, start=1)}


def choose_lots(
    lots: Sequence[LotOnHand], weight_lb: float, *, division_lb: float
) -> tuple[LotOnHand, ...]:
    """The lots to take a weight from: the first that holds all of it, else several in order.

    Less than a division of the scale cannot be taken from a lot.

    >>> lots = [LotOnHand("A", 600, 11.0, {}), LotOnHand("B", 900, 11.0, {})]
    >>> [[lot.code for lot in choose_lots(lots, lb, division_lb=1)] for lb in (500, 800, 1000)]
    [['A'], ['B'], ['A', 'B']]
    """
    for lot in lots:
        if lot.free_lb >= weight_lb:
            return (lot,)
    chosen = []
    left = weight_lb
    for lot in lots:
        if left > 0 and (whole_lb := _whole(lot.free_lb, division_lb)) > 0:
            chosen.append(lot)
            left -= whole_lb
    return tuple(chosen)


def dealt_out(lots: Sequence[LotOnHand], weight_lb: float, *, division_lb: float) -> Supply:
    """A weight over chosen lots in their order, whole divisions of each; the rest is typical.

    >>> lots = [LotOnHand("A", 600.5, 11.0, {}), LotOnHand("B", 900, 11.0, {})]
    >>> supply = dealt_out(lots, 1600, division_lb=1)
    >>> [(lot.code, lot.weight_lb) for lot in supply.lots], supply.typical_lb
    ([('A', 600.0), ('B', 900.0)], 100.0)
    """
    parts, left = [], weight_lb
    for lot in lots:
        taken = min(left, _whole(lot.free_lb, division_lb))
        if taken > 0:
            parts.append(
                PlannedLot(
                    code=lot.code,
                    weight_lb=taken,
                    density_lb_per_gal=lot.density_lb_per_gal,
                    analysis=dict(lot.analysis),
                )
            )
            left = max(0.0, round(left - taken, _PLACES))
    return Supply(tuple(parts), left)


def mixed(
    supply: Supply, *, density_lb_per_gal: float, analysis: Mapping[str, float]
) -> tuple[float, dict[str, float]]:
    """Density and analysis of what comes together; the typical figures are those of the rest.

    Masses and volumes add up: so much of one stock at two strengths is nearly an ideal mixture.
    """
    parts = [(lot.weight_lb, lot.density_lb_per_gal, lot.analysis) for lot in supply.lots]
    if supply.typical_lb > 0 or not parts:
        parts.append((supply.typical_lb or 1.0, density_lb_per_gal, analysis))
    if len(parts) == 1:
        return parts[0][1], dict(parts[0][2])
    total = sum(lb for lb, _, _ in parts)
    keys = dict.fromkeys(key for _, _, contents in parts for key in contents)
    return (
        total / sum(lb / density for lb, density, _ in parts),
        {key: sum(lb * each.get(key, 0.0) for lb, _, each in parts) / total for key in keys},
    )


def comes_from_the_main(stock: BaseStock, lots: Sequence[LotOnHand]) -> bool:
    """Water nobody received as a lot: there is nothing to choose and nothing to say."""
    return not lots and any(trait.code == FROM_THE_MAIN for trait in stock.traits.all())


def _whole(lb: float, division_lb: float) -> float:
    return round(math.floor(lb / division_lb + _NOISE) * division_lb, _PLACES)
