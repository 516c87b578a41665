"""What is in a tank, and what going over to the next batch asks for.

The engine judges what a heel meets (``formulas.engine.plant.changeover``); this module tells it
what was really in the tank: the last batch charged there, unless its tank was rinsed since.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

from formulas.engine.mark import Mark
from formulas.engine.plant import changeover as engine
from formulas.engine.problem import Stock
from formulas.engine_bridge import saved_rules
from orders.frozen.load_plan import FrozenStock
from orders.models import Batch, Tank

#: Share of a tank's capacity that stays in it when it is drained, percent.
HEEL_PCT: Final = 1.0

HEEL_BASIS: Final = (
    f"Heel taken as 1 % of the tank's capacity ({Mark.COMMON_PRACTICE}): measure your own."
)


@dataclass(frozen=True, slots=True)
class Change:
    """Going over to a batch: what it asks for, in words. ``needs_flush`` stops the tank."""

    batch: Batch
    words: str
    sources: tuple[str, ...]
    needs_flush: bool


def next_change(batch: Batch) -> Change | None:
    """What charging this batch next asks for; None when nothing is known to be in the tank."""
    last, rinsed = last_in(batch.tank, but=batch)
    if last is None or rinsed:
        return None
    heel_gal = HEEL_PCT / 100 * batch.tank.capacity_gal
    step = engine.carry_over(
        as_tank_batch(last), as_tank_batch(batch), saved_rules(), heel_gal=heel_gal
    )
    return change_into(batch, step)


def last_in(tank: Tank, *, but: Batch | None = None) -> tuple[Batch | None, bool]:
    """The batch that was in the tank last, and whether the tank was rinsed after it.

    By the time of its first charge or, weighed from the printed ticket, of being made.
    """
    batches = Batch.objects.filter(tank=tank)  # a cancelled one may have been charged too
    if but is not None:
        batches = batches.exclude(pk=but.pk)
    begun = [
        (event_at, batch_id)
        for batch_id, event_at in batches.filter(
            events__to_status__in=(Batch.Status.CHARGING, Batch.Status.MADE)
        ).values_list("pk", "events__at")
    ]
    if not begun:
        return None, False
    last = Batch.objects.get(pk=max(begun)[1])
    return last, last.rinses.exists()


def as_tank_batch(batch: Batch) -> engine.TankBatch:
    """The batch as the engine's tank sees it, from its frozen plan."""
    plan = batch.load_plan
    # By the weights: the plan's percentages are rounded and need not add up to 100.
    total_lb = sum(step.weight_lb for step in plan.steps)
    return engine.TankBatch(
        code=batch.number,
        name=f"{plan.product_name} ({batch.number})",
        stocks=tuple(_stock(step) for step in plan.steps),
        pct=tuple(100 * step.weight_lb / total_lb for step in plan.steps),
        volume_gal=plan.volume_gal,
    )


def _stock(frozen: FrozenStock) -> Stock:
    return Stock(
        code=frozen.code,
        name=frozen.name,
        density_lb_per_gal=frozen.density_lb_per_gal,
        cost_per_lb=0.0,
        analysis=frozen.analysis,
        traits=frozenset(frozen.traits),
        solutes=frozen.solutes,
    )


def change_into(batch: Batch, step: engine.CarryOver | None) -> Change:
    if step is None:
        return Change(batch, "Nothing is known to be in the tank.", (), needs_flush=False)
    sources = tuple(dict.fromkeys(meeting.source for meeting in step.meetings))
    return Change(batch, step.words, sources, needs_flush=step.needs_flush)
