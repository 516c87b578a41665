"""The batch list: which batches the plant still has work with, and what one weighs."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any, Final

from django.db.models import Q

from blendshop.figures.readers import reader
from orders.frozen.load_plan import LoadPlan, PlannedWeighing
from orders.models import Batch
from orders.models.batch import BatchQuerySet

#: States in which the plant still has work with a batch.
WITH_WORK_LEFT: Final = (
    Batch.Status.PLANNED,
    Batch.Status.CHARGING,
    Batch.Status.MADE,
    Batch.Status.HELD,
)


def filter_batches(batches: BatchQuerySet, wanted: dict[str, Any]) -> BatchQuerySet:
    """Batches by search text, status (those with work left unless asked otherwise) and tank."""
    status = wanted.get("status")
    if not status:
        batches = batches.filter(status__in=WITH_WORK_LEFT)
    elif status != "all":
        batches = batches.filter(status=status)
    if tank := wanted.get("tank"):
        batches = batches.filter(tank=tank)
    if text := (wanted.get("q") or "").strip():
        batches = batches.filter(
            Q(number__icontains=text)
            | Q(parts__order_line__order__number__icontains=text)
            | Q(parts__order_line__order__company__name__icontains=text)
            | Q(parts__order_line__revision__blend__name__icontains=text)
        ).distinct()
    return batches


@dataclass(frozen=True, slots=True)
class WeighingRow:
    """A weighing of a plan, with pounds as its scale shows them."""

    step: PlannedWeighing
    weight: str
    running: str


def weighings(plan: LoadPlan) -> list[WeighingRow]:
    """The plan's steps with weights printed to exactly the places their scale shows."""
    finest = min(step.scale_step_lb for step in plan.steps)
    return [
        WeighingRow(
            step,
            weight=reader().scale_weight(step.weight_lb, step.scale_step_lb),
            running=reader().scale_weight(step.running_total_lb, finest),
        )
        for step in plan.steps
    ]
