"""The weighings of a batch against what was charged: plan first, accepted additions after it."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from decimal import ROUND_FLOOR, Decimal
from enum import StrEnum
from typing import Final

from django.utils.translation import gettext_lazy

from formulas.engine.plant.load import ScaleKind
from formulas.engine_bridge import exact
from orders.frozen.load_plan import Weighing
from orders.models import Batch, Charge, PlanAddition, TargetChange

#: For weighings of before there were planned tolerances: a weight is on target within one scale
#: step, or this share of the target if that is more.
TOLERANCE_PCT: Final = Decimal("0.5")
TOLERANCE_BASIS: Final = gettext_lazy(
    "one scale step, or 0.5 % of the weight if that is more (common practice, no source)"
)
PLANNED_TOLERANCE_BASIS: Final = gettext_lazy(
    "the plan's own tolerance: every promise holds for every weight on target"
)
ZERO: Final = Decimal(0)


class WeighingStatus(StrEnum):
    """How a weighing stands; the words stand beside the colour."""

    WAITING = "waiting"
    UNDER = "under"
    ON_TARGET = "on_target"
    OVER = "over"


@dataclass(frozen=True, slots=True)
class Step:
    """One weighing. ``number`` counts from 1; masses in lb, whole scale steps.

    ``figures`` is the frozen weighing that holds now: that of the newest of ``changes``, else
    ``planned``, which is the plan's own or the addition's.
    """

    number: int
    planned: Weighing
    charges: tuple[Charge, ...]
    why: str = ""
    changes: tuple[TargetChange, ...] = ()

    @property
    def figures(self) -> Weighing:
        return self.changes[-1].weighing if self.changes else self.planned

    @property
    def code(self) -> str:
        return self.figures.code

    @property
    def name(self) -> str:
        return self.figures.name

    @property
    def instruction(self) -> str:
        return self.figures.instruction

    @property
    def is_addition(self) -> bool:
        return bool(self.why)

    @property
    def is_water(self) -> bool:
        return self.figures.is_water

    @property
    def scale_step_lb(self) -> Decimal:
        return exact(self.figures.scale_step_lb)

    @property
    def is_on_fine_scale(self) -> bool:
        return self.figures.scale is ScaleKind.FINE

    @property
    def planned_lb(self) -> Decimal:
        """The target before any change of it."""
        return exact(self.planned.weight_lb)

    @property
    def target_lb(self) -> Decimal:
        return exact(self.figures.weight_lb)

    @property
    def charged_lb(self) -> Decimal:
        return sum((charge.mass_lb for charge in self.charges), ZERO)

    @property
    def left_lb(self) -> Decimal:
        """What is still to be weighed; nothing once the target is passed."""
        return max(ZERO, self.target_lb - self.charged_lb)

    @property
    def off_lb(self) -> Decimal:
        """Charged minus target."""
        return self.charged_lb - self.target_lb

    @property
    def tolerance_lb(self) -> Decimal:
        """The plan's; whole scale steps by ``TOLERANCE_BASIS`` where it has none."""
        if self.figures.tolerance_lb is not None:
            return exact(self.figures.tolerance_lb)
        return tolerance_lb(self.target_lb, self.scale_step_lb)

    @property
    def tolerance_basis(self) -> str:
        planned = self.figures.tolerance_lb is not None
        return str(PLANNED_TOLERANCE_BASIS if planned else TOLERANCE_BASIS)

    @property
    def status(self) -> WeighingStatus:
        if not self.charges:
            return WeighingStatus.WAITING
        if abs(self.off_lb) <= self.tolerance_lb:
            return WeighingStatus.ON_TARGET
        return WeighingStatus.OVER if self.off_lb > 0 else WeighingStatus.UNDER


def tolerance_lb(target_lb: Decimal, scale_step_lb: Decimal) -> Decimal:
    """Pounds either side of a target that count as on target.

    >>> str(tolerance_lb(Decimal(2450), Decimal(5))), str(tolerance_lb(Decimal(80), Decimal(1)))
    ('10', '1')
    """
    steps = (target_lb * TOLERANCE_PCT / 100 / scale_step_lb).to_integral_value(ROUND_FLOOR)
    return max(Decimal(1), steps) * scale_step_lb


def batch_steps(batch: Batch) -> list[Step]:
    """Every weighing of the batch with the charges that count, a few queries."""
    return steps_of_batches([batch])[batch.pk]


def steps_of_batches(
    batches: Sequence[Batch], *, with_figures: bool = True
) -> dict[int, list[Step]]:
    """``batch_steps`` of each batch by its id, in the queries of one.

    Without ``with_figures`` what the lots' certificates say is not read.
    """
    charges: dict[tuple[int, int], list[Charge]] = defaultdict(list)
    for charge in _counted_charges(batches, with_figures=with_figures):
        charges[charge.batch_id, charge.step].append(charge)
    changes: dict[tuple[int, int], list[TargetChange]] = defaultdict(list)
    rows = TargetChange.objects.filter(batch__in=batches).select_related("lot")
    for change in rows.prefetch_related("lot__figures").order_by("pk"):
        changes[change.batch_id, change.step].append(change)
    added: dict[int, list[PlanAddition]] = defaultdict(list)
    for row in PlanAddition.objects.filter(batch__in=batches).order_by("position"):
        added[row.batch_id].append(row)
    return {
        batch.pk: [
            Step(
                number,
                figures,
                tuple(charges[batch.pk, number]),
                why,
                tuple(changes[batch.pk, number]),
            )
            for number, (figures, why) in enumerate(_weighings(batch, added[batch.pk]), start=1)
        ]
        for batch in batches
    }


def _weighings(batch: Batch, added: Sequence[PlanAddition]) -> list[tuple[Weighing, str]]:
    """Those of the plan, then the additions, each with why it was added."""
    planned: list[tuple[Weighing, str]] = [(step, "") for step in batch.load_plan.steps]
    return [*planned, *((row.weighing, row.why) for row in added)]


def _counted_charges(batches: Sequence[Batch], *, with_figures: bool) -> list[Charge]:
    """The batches' charges in the order they were written, without those reversed."""
    charges = Charge.objects.filter(batch__in=batches, reversal__isnull=True)
    charges = charges.select_related("lot", "stock")
    return list(charges.prefetch_related("lot__figures") if with_figures else charges)


def current_step(steps: Sequence[Step]) -> Step | None:
    """The weighing to go on with: the last one begun if it is still under, else the next.

    A step passed over while a later one was begun stays under; None when all are done.
    """
    begun = [step for step in steps if step.charges]
    if begun and begun[-1].status is WeighingStatus.UNDER:
        return begun[-1]
    return next((step for step in steps if not step.charges), None)


def not_charged(steps: Iterable[Step]) -> list[Step]:
    """Steps nothing has gone into the tank for."""
    return [step for step in steps if not step.charges]


def charged_lb(steps: Iterable[Step]) -> Decimal:
    """What the tank's scale shows by the charges."""
    return sum((step.charged_lb for step in steps), ZERO)
