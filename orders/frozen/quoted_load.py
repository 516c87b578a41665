"""The default load a line was priced for, as it was planned in that minute. Staff only."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from decimal import Decimal

from blendshop.snapshot import Snapshot
from formulas.engine.plant.load import ScaleKind


@dataclass(frozen=True, slots=True, kw_only=True)
class QuotedWeighing(Snapshot):
    """One stock's weight in one load; every weight within ``tolerance_lb`` is on target."""

    code: str
    name: str
    weight_lb: float
    tolerance_lb: float
    scale: ScaleKind


@dataclass(frozen=True, slots=True, kw_only=True)
class QuotedLoad(Snapshot):
    """``loads`` equal loads of ``volume_gal`` in an empty ``tank``, of typical stocks.

    ``tolerance_pct`` is the wanted one and ``reached_pct`` what the plan could keep; all other
    figures are of one load: ``made_gal`` gallons of ``mass_lb``, ``analysis`` expected and
    ``least_pct`` sure, percent by weight. ``cost`` is what is weighed at the costs of that
    minute, ``room_cost_per_gal`` how much of it per gallon is the room for weighing.
    ``too_coarse`` are tanks that would come first and cannot weigh it.
    """

    OMITTED = frozenset({"too_coarse"})

    tank: str
    loads: int
    volume_gal: Decimal
    scale_step_lb: float
    fine_step_lb: float | None = None
    fine_max_lb: float | None = None
    tolerance_pct: float
    reached_pct: float
    is_below_smallest: bool = False
    steps: tuple[QuotedWeighing, ...]
    made_gal: float
    mass_lb: float
    density_lb_per_gal: float
    analysis: Mapping[str, float]
    slow_release_pct: float | None
    least_pct: Mapping[str, float]
    cost: Decimal
    room_cost_per_gal: Decimal
    too_coarse: tuple[str, ...] = ()

    @property
    def shares_pct(self) -> Mapping[str, float]:
        """Each stock's share of what is weighed, percent by code."""
        together = sum(step.weight_lb for step in self.steps)
        return {step.code: 100 * step.weight_lb / together for step in self.steps}

    @property
    def cost_per_gal(self) -> Decimal:
        """Dollars of material per gallon made, unrounded."""
        return self.cost / Decimal(repr(self.made_gal))
