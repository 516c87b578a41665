"""Of frozen plans what pages over very many batches show, each read once: a plan never changes."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime
from typing import Final

from formulas.engine.plant.changeover import TankBatch
from orders.models import Batch
from orders.models.batch import BatchQuerySet
from orders.tanks.contents import as_tank_batch

#: Plans that were read, by batch and moment of its planning, and how many are kept.
_MOST_KEPT: Final = 2000
_READ: Final[dict[tuple[int, datetime], ReadPlan]] = {}


@dataclass(frozen=True, slots=True)
class PlannedStep:
    """A weighing's stock and the codes of the lots it is planned from."""

    name: str
    lots: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class ReadPlan:
    """A plan in short; ``in_tank`` is the batch as its tank sees it."""

    product_name: str
    grade: str
    revision_id: int
    in_tank: TankBatch
    steps: tuple[PlannedStep, ...]


def read_plans(batches: Sequence[Batch]) -> Mapping[int, ReadPlan]:
    """By the batches' ids; those not read yet in one query."""
    keys = {batch.pk: (batch.pk, batch.created_at) for batch in batches}
    found = {pk: _READ[key] for pk, key in keys.items() if key in _READ}
    for batch in Batch.objects.filter(pk__in=keys.keys() - found.keys()):
        found[batch.pk] = _in_short(batch)
    if len(_READ) > _MOST_KEPT:
        _READ.clear()
    _READ.update({keys[pk]: plan for pk, plan in found.items()})
    return found


def listed_batches(rows: BatchQuerySet) -> list[Batch]:
    """The batches with tanks, product, grade and revision, by plans that were read before."""
    batches = list(rows.in_short())
    plans = read_plans(batches)
    for batch in batches:
        plan = plans[batch.pk]
        batch.planned_product, batch.planned_grade = plan.product_name, plan.grade
        batch.planned_revision = plan.revision_id
    return batches


def _in_short(batch: Batch) -> ReadPlan:
    plan = batch.load_plan
    return ReadPlan(
        product_name=plan.product_name,
        grade=plan.grade,
        revision_id=plan.revision_id,
        in_tank=as_tank_batch(batch),
        steps=tuple(
            PlannedStep(step.name, tuple(lot.code for lot in step.lots)) for step in plan.steps
        ),
    )
