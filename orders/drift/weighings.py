"""How far what was charged lay from its target: the as-made error of each weighing."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date
from typing import Final

from django.utils import timezone

from orders.models import Batch
from orders.production.steps import Step, steps_of_batches

#: So many of the plant's newest batches are looked at.
MOST_BATCHES: Final = 100
_MADE: Final = (Batch.Status.MADE, Batch.Status.HELD, Batch.Status.RELEASED)


@dataclass(frozen=True, slots=True)
class Weighed:
    """One weighing of one stock: ``error_pct`` is charged less target, percent of the target.

    ``supplier`` is that of the lots it was charged from; None where they were of several.
    """

    batch: str
    stock_code: str
    supplier: str | None
    charged_on: date
    error_pct: float


def newest_weighings() -> list[Weighed]:
    """Every weighing of the newest made batches, oldest first; the queries of one batch.

    Against the target that held when it was charged. What a correction added is left out: its
    target came from what the tank lacked.
    """
    batches = list(
        Batch.objects.filter(status__in=_MADE).order_by("-created_at", "-pk")[:MOST_BATCHES]
    )
    steps = steps_of_batches(batches, with_figures=False)
    return [
        _weighed(batch, step)
        for batch in reversed(batches)
        for step in steps[batch.pk]
        if step.charges and not step.is_addition and step.target_lb > 0
    ]


def _weighed(batch: Batch, step: Step) -> Weighed:
    suppliers = {charge.lot.supplier if charge.lot else "" for charge in step.charges}
    last = step.charges[-1]
    return Weighed(
        batch=batch.number,
        stock_code=step.code,
        supplier=suppliers.pop() if len(suppliers) == 1 else None,
        charged_on=timezone.localdate(last.weighed_at or last.at),
        error_pct=float(100 * step.off_lb / step.target_lb),
    )
