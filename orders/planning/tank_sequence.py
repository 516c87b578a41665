"""What is in each tank, what comes next, and the order that needs the fewest flushes.

The engine judges what a heel meets (``formulas.engine.plant.changeover``); this module tells it
what was really in the tank: the last batch charged there, unless its tank was rinsed since.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final

from blendshop.errors import BadInput
from formulas.engine.mark import Mark
from formulas.engine.plant import changeover as engine
from formulas.engine.problem import CompatibilityRule, Stock
from formulas.engine_bridge import saved_rules
from orders.frozen.load_plan import FrozenStock
from orders.models import Batch, OrderLine, Tank
from orders.planning.loads import LoadPart, split_into_loads

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


@dataclass(frozen=True, slots=True)
class SameBlend:
    """Planned batches of one recipe; ``loads`` is how few they would be when combined."""

    batches: tuple[Batch, ...]
    loads: int

    @property
    def can_combine(self) -> bool:
        return self.loads < len(self.batches)


@dataclass(frozen=True, slots=True)
class TankSequence:
    """One tank: what was last in it, the batches waiting, and their suggested order."""

    tank: Tank
    last: Batch | None
    rinsed: bool
    heel_gal: float
    changes: tuple[Change, ...]
    flushes: int
    flushes_as_given: int
    is_exact: bool
    same_blend: tuple[SameBlend, ...]

    @property
    def saved(self) -> int:
        """Flushes fewer than in the order of the due dates."""
        return self.flushes_as_given - self.flushes


def tank_sequences() -> list[TankSequence]:
    """Every tank in use with the batches planned for it, by name."""
    rules = saved_rules()
    return [
        tank_sequence(tank, rules) for tank in Tank.objects.filter(active=True).order_by("name")
    ]


def tank_sequence(tank: Tank, rules: Sequence[CompatibilityRule]) -> TankSequence:
    """The suggested order of the batches planned for a tank; as given means by due date."""
    waiting = list(
        Batch.objects.filter(tank=tank, status=Batch.Status.PLANNED).for_list().by_due_date()
    )
    last, rinsed = last_in(tank)
    heel_gal = HEEL_PCT / 100 * tank.capacity_gal
    by_number = {batch.number: batch for batch in waiting}
    plan = engine.changeover_plan(
        [as_tank_batch(batch) for batch in waiting],
        rules,
        heel_gal=heel_gal,
        last=None if last is None or rinsed else as_tank_batch(last),
    )
    into = {step.after: step for step in plan.steps}
    return TankSequence(
        tank=tank,
        last=last,
        rinsed=rinsed,
        heel_gal=heel_gal,
        changes=tuple(_change(by_number[code], into.get(code)) for code in plan.order),
        flushes=plan.flushes,
        flushes_as_given=plan.flushes_as_given,
        is_exact=plan.is_exact,
        same_blend=tuple(_same_blend(waiting, tank)),
    )


def next_change(batch: Batch) -> Change | None:
    """What charging this batch next asks for; None when nothing is known to be in the tank."""
    last, rinsed = last_in(batch.tank, but=batch)
    if last is None or rinsed:
        return None
    heel_gal = HEEL_PCT / 100 * batch.tank.capacity_gal
    step = engine.carry_over(
        as_tank_batch(last), as_tank_batch(batch), saved_rules(), heel_gal=heel_gal
    )
    return _change(batch, step)


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
    )


def _change(batch: Batch, step: engine.CarryOver | None) -> Change:
    if step is None:
        return Change(batch, "Nothing is known to be in the tank.", (), needs_flush=False)
    sources = tuple(dict.fromkeys(meeting.source for meeting in step.meetings))
    return Change(batch, step.words, sources, needs_flush=step.needs_flush)


def _same_blend(waiting: Sequence[Batch], tank: Tank) -> list[SameBlend]:
    """Planned batches of one revision: one load if they fit, else one after the other."""
    by_revision: dict[int, list[Batch]] = {}
    for batch in waiting:
        by_revision.setdefault(batch.load_plan.revision_id, []).append(batch)
    return [
        SameBlend(tuple(batches), _loads(batches, tank))
        for batches in by_revision.values()
        if len(batches) > 1
    ]


def _loads(batches: Sequence[Batch], tank: Tank) -> int:
    """Loads of all that the batches hold, by due date; as many as now if the tank refuses."""
    parts = [part for batch in batches for part in batch.parts.all()]
    quantities: dict[OrderLine, int] = {}
    for part in sorted(parts, key=lambda part: part.order_line.order.due_on):
        quantities[part.order_line] = quantities.get(part.order_line, 0) + part.quantity
    try:
        return len(split_into_loads([LoadPart(*each) for each in quantities.items()], tank))
    except BadInput:
        return len(batches)
