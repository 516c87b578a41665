"""The answer of a load plan: the weighings, what is sure of them, and why there are none.

Pounds, US gallons, percent by weight, dollars.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from decimal import Decimal

from blendshop.snapshot import Snapshot
from formulas.answers.answer import Notice
from formulas.answers.label import LabelAnswer
from formulas.engine.plant.load import ScaleKind


@dataclass(frozen=True, slots=True, kw_only=True)
class PlannedStep(Snapshot):
    """One weighing; weight and tolerance are whole divisions of its scale."""

    code: str
    weight_lb: float
    tolerance_lb: float
    scale: ScaleKind
    division_lb: float


@dataclass(frozen=True, slots=True, kw_only=True)
class LoadAnswer(Snapshot):
    """The full tank, heel included; ``cost`` is of the stocks charged."""

    steps: tuple[PlannedStep, ...]
    tolerance_pct: float
    analysis: Mapping[str, float]
    least_pct: Mapping[str, float]
    most_pct: Mapping[str, float]
    slow_release_pct: float | None
    density_lb_per_gal: float
    volume_gal: float
    least_gal: float
    net_weight_lb: float
    cost: Decimal
    room_cost_per_gal: Decimal
    gap: float
    label: LabelAnswer
    findings: tuple[Notice, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class WindowNotice(Notice):
    """A window too narrow for the scale: ``nearest`` is the figure that can be made."""

    field: str | None
    nearest: float


@dataclass(frozen=True, slots=True, kw_only=True)
class ScaleNotice(Notice):
    """A scale too coarse: ``finer_lb`` is the largest division that would do.

    ``stock`` None: for no stock alone, but for all of them together.
    """

    stock: str | None
    division_lb: float
    finer_lb: float
