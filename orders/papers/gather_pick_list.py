"""A load still to be charged to its pick list."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Final

from django.conf import settings
from django.utils import timezone
from django.utils.translation import override

from blendshop.figures.readers import house
from formulas.models import BaseStock
from orders.frozen.load_plan import PlannedLot
from orders.inventory.levels import suggested_lots
from orders.models import Batch, PlantProfile, StockLot
from orders.papers import plant_view_models as paper
from orders.planning.lot_choice import planned_lots
from orders.production.step_rows import lot_words
from orders.production.steps import Step, batch_steps
from orders.records.letterhead import plant_block

_LOTS_LISTED: Final = 4


@override(settings.LANGUAGE_CODE)
def pick_list_view(batch: Batch) -> paper.PickListView:
    """Stocks still to be charged with the lots to take them from today."""
    steps = [step for step in batch_steps(batch) if step.left_lb > 0]
    stocks = _stock_ids({step.code for step in steps})
    lots = suggested_lots(list(stocks.values()), timezone.localdate())
    planned = planned_lots(batch)
    return paper.PickListView(
        plant=plant_block(PlantProfile.load()),
        number=batch.number,
        product_name=batch.load_plan.product_name,
        tank_name=batch.load_plan.tank.name,
        picked_for=timezone.localdate(batch.created_at),
        lines=tuple(
            paper.PickLine(
                stock_code=step.code,
                stock_name=step.name,
                weight_lb=step.left_lb,
                lots=_lots_to_bring(lots[stocks[step.code]], planned.get(step.number, ()), step),
                note=step.instruction,
            )
            for step in steps
        ),
    )


def _lots_to_bring(
    lots: list[StockLot], planned: Sequence[PlannedLot], step: Step
) -> tuple[str, ...]:
    """The lots the plan was made with; where it names none, those on hand in order of use.

    A planned lot that may not be used any more is still named, with the reason to plan again.
    """
    if planned:
        usable = {lot.code: lot for lot in lots}
        return tuple(
            _planned_lot_words(lot, usable.get(lot.code), several=len(planned) > 1)
            for lot in planned
        )
    if not lots and step.is_water:
        return ("from the main",)
    return tuple(lot_words(lot) for lot in lots[:_LOTS_LISTED])


def _planned_lot_words(lot: PlannedLot, usable: StockLot | None, *, several: bool) -> str:
    if usable is None:
        return f"{lot.code}: planned, but held, used up or past its last day. Plan this load again."
    mass = f"{house().at_most(lot.weight_lb, 3)} lb of " if several else ""
    return f"{mass}{lot_words(usable)}"


def _stock_ids(codes: set[str]) -> dict[str, int]:
    return dict(BaseStock.objects.filter(code__in=codes).values_list("code", "pk"))
