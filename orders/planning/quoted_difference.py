"""Where a planned load differs from the load an order was priced for; the price stays.

Orders put together, lots, a heel or another tank move shares and cost. Both figures stand in
frozen records, so the difference is the same for ever.
"""

from __future__ import annotations

from dataclasses import dataclass
from decimal import Decimal
from typing import Final

from blendshop.money import unit_price
from orders.frozen.load_plan import LoadPlan
from orders.models import Batch, BatchPart
from orders.planning.default_load import quoted_load

#: Shares closer than this are the same, percentage points: weighing on whole divisions moves more.
_SAME_PCT: Final = 0.005


@dataclass(frozen=True, slots=True)
class ShareMoved:
    """A stock's share of what is weighed, percent; 0 where it is not in the one or the other."""

    name: str
    quoted_pct: float
    planned_pct: float


@dataclass(frozen=True, slots=True)
class PartDifference:
    """One order line's quote beside the plan of its load.

    Weights are those of the part's gallons. ``shares`` are only those that moved. ``costs`` are
    dollars of material per gallon, each at the costs of its own day; None in plans of before.
    """

    part: BatchPart
    shares: tuple[ShareMoved, ...]
    quoted_density_lb_per_gal: float
    planned_density_lb_per_gal: float
    quoted_lb: float
    planned_lb: float
    quoted_cost_per_gal: Decimal
    planned_cost_per_gal: Decimal | None

    @property
    def more_cost_per_gal(self) -> Decimal | None:
        """What the plan costs more than was quoted; negative when it costs less."""
        if self.planned_cost_per_gal is None:
            return None
        return self.planned_cost_per_gal - self.quoted_cost_per_gal

    @property
    def is_none(self) -> bool:
        """Whether the load is what was quoted, to the last printed digit."""
        density = self.planned_density_lb_per_gal - self.quoted_density_lb_per_gal
        return not self.shares and abs(density) < _SAME_PCT and not self.more_cost_per_gal


def quoted_differences(batch: Batch) -> tuple[PartDifference, ...]:
    """Of each part whose order was priced for a load; orders of before have none."""
    parts = batch.parts.select_related("order_line").order_by("position")
    found = (_difference(part, batch.load_plan) for part in parts)
    return tuple(each for each in found if each is not None)


def _difference(part: BatchPart, plan: LoadPlan) -> PartDifference | None:
    quoted = quoted_load(part.order_line)
    if quoted is None:
        return None
    names = {step.code: step.name for step in quoted.steps}
    names |= {step.code: step.name for step in plan.steps}
    before = quoted.shares_pct
    now = {step.code: 100 * step.weight_lb / plan.charged_lb for step in plan.steps}
    gal = part.consignment.volume_gal
    return PartDifference(
        part=part,
        shares=tuple(
            ShareMoved(name, before.get(code, 0.0), now.get(code, 0.0))
            for code, name in names.items()
            if abs(before.get(code, 0.0) - now.get(code, 0.0)) >= _SAME_PCT
        ),
        quoted_density_lb_per_gal=quoted.density_lb_per_gal,
        planned_density_lb_per_gal=plan.density_lb_per_gal,
        quoted_lb=gal * quoted.density_lb_per_gal,
        planned_lb=gal * plan.density_lb_per_gal,
        quoted_cost_per_gal=unit_price(quoted.cost_per_gal),
        planned_cost_per_gal=plan.cost_per_gal,
    )
