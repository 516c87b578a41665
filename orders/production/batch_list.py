"""The batch list: which batches the plant still has work with, and what one weighs."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any, Final

from django.db.models import Q

from blendshop.accounts.models import Company
from blendshop.accounts.search import named
from blendshop.figures.readers import reader
from formulas.models import BlendRevision
from orders.frozen.load_plan import LoadPlan, PlannedWeighing
from orders.models import Batch, BatchPart, Order, OrderLine
from orders.models.batch import BatchQuerySet
from orders.planning.plan_words import lot_differences, scale_words

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
        # A batch with two matching parts is one batch: ask by key, do not join.
        customers = named(Company.objects.all(), text)
        orders = Order.objects.filter(Q(number__icontains=text) | Q(company__in=customers))
        revisions = BlendRevision.objects.filter(blend__name__icontains=text)
        lines = OrderLine.objects.filter(
            Q(order__in=orders.values("pk")) | Q(revision__in=revisions.values("pk"))
        )
        parts = BatchPart.objects.filter(order_line__in=lines.values("pk"))
        batches = batches.filter(Q(number__icontains=text) | Q(pk__in=parts.values("batch")))
    return batches


@dataclass(frozen=True, slots=True)
class LotRow:
    """A lot a step is planned from: its pounds where there are several, what differs in it."""

    code: str
    weight: str
    differs: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class WeighingRow:
    """A weighing of a plan, with pounds as its scale shows them.

    ``within`` is how far off is on target, empty in a plan of before tolerances; ``scale`` names
    the scale where the tank has two.
    """

    step: PlannedWeighing
    weight: str
    running: str
    within: str
    scale: str
    lots: tuple[LotRow, ...]


def weighings(plan: LoadPlan) -> list[WeighingRow]:
    """The plan's steps with weights printed to exactly the places their scale shows."""
    finest = min(step.scale_step_lb for step in plan.steps)
    return [_row(plan, step, finest) for step in plan.steps]


def _row(plan: LoadPlan, step: PlannedWeighing, finest_step_lb: float) -> WeighingRow:
    def at_scale(lb: float) -> str:
        return reader().scale_weight(lb, step.scale_step_lb)

    several = len(step.lots) > 1
    return WeighingRow(
        step,
        weight=at_scale(step.weight_lb),
        running=reader().scale_weight(step.running_total_lb, finest_step_lb),
        within="" if step.tolerance_lb is None else at_scale(step.tolerance_lb),
        scale=scale_words(plan.tank, step),
        lots=tuple(
            LotRow(lot.code, at_scale(lot.weight_lb) if several else "", lot_differences(step, lot))
            for lot in step.lots
        ),
    )
