"""One tank load: what is asked of a plan with room, and what it answers. Frozen values.

Pounds, US gallons, percent by weight, dollars. ``with_room`` plans; this module only names.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field, replace
from enum import StrEnum
from typing import Final

from formulas.engine.problem import BlendProblem, NutrientWish
from formulas.engine.result import Blend, Finding, Share

#: Wanted tolerance of a weighing, percent of its weight, unless a tank says otherwise.
USUAL_TOLERANCE_PCT: Final = 0.5


class ScaleKind(StrEnum):
    """Which of a tank's scales a step is weighed on."""

    MAIN = "main"
    FINE = "fine"


@dataclass(frozen=True, slots=True)
class FineScale:
    """A second scale for small weights: its division, and the most it takes."""

    step_lb: float
    max_lb: float


@dataclass(frozen=True, slots=True)
class LoadScale:
    """A tank's main scale. ``step_lb`` None: each stock's own step; else it replaces them."""

    step_lb: float | None = None
    fine: FineScale | None = None


@dataclass(frozen=True, slots=True)
class Heel:
    """What is in the tank already. ``analysis`` in percent by weight, keys as of ``Stock``."""

    mass_lb: float
    volume_gal: float
    analysis: Mapping[str, float]


@dataclass(frozen=True, slots=True)
class LoadQuestion:
    """A load to be planned.

    ``problem`` carries stocks and everything wished (its own ``fill`` is not read). ``recipe``
    says which stocks are used and is what the weights stay near; None: the plain optimum of the
    problem. ``volume_gal`` is what the tank holds at the end, heel included. ``printed_pct`` are
    label lines promised already, kept like minima. ``capacity_gal`` is the brim of the tank.
    ``density_correction`` is this product's measured density over the modelled one; it divides
    the volume of what is charged. ``may_grow`` lets the load become larger than asked, up to the
    brim, where what is in the tank needs more beside it.
    """

    problem: BlendProblem
    volume_gal: float
    recipe: tuple[Share, ...] | None = None
    scale: LoadScale = field(default_factory=LoadScale)
    tolerance_pct: float = USUAL_TOLERANCE_PCT
    heel: Heel | None = None
    printed_pct: Mapping[str, float] = field(default_factory=dict)
    capacity_gal: float | None = None
    density_correction: float = 1.0
    may_grow: bool = False

    @property
    def promised(self) -> BlendProblem:
        """The problem with the printed lines as further minima: every limit a load has to keep.

        Identities of limits that a load speaks of (refusals, ``broken_for``) are this problem's.
        """
        lines = tuple(NutrientWish(key, pct) for key, pct in self.printed_pct.items())
        return replace(self.problem, wishes=(*self.problem.wishes, *lines))


@dataclass(frozen=True, slots=True)
class LoadStep:
    """One weighing: ``weight_lb`` and ``tolerance_lb`` are whole divisions of its scale."""

    code: str
    weight_lb: float
    tolerance_lb: float
    scale: ScaleKind
    division_lb: float


@dataclass(frozen=True, slots=True)
class PlannedLoad:
    """Weights with room: what they make, and what is sure for every weight on target.

    ``blend`` is what is charged (its cost too); ``analysis``, ``slow_release_pct``, density, net
    weight and volume are of the full tank, heel included. ``least_pct`` and ``most_pct`` bound
    each content over all boxes together (``least_chelated_pct`` the part of each metal that is
    chelated), ``least_gal`` the volume. ``cost`` is of the stocks
    charged, dollars; ``room_cost_per_gal`` is what the room added to it, per gallon made.
    ``gap`` is the proven relative gap of the whole-number search, 0 where it was proven best.
    """

    steps: tuple[LoadStep, ...]
    tolerance_pct: float
    blend: Blend
    analysis: Mapping[str, float]
    slow_release_pct: float | None
    density_lb_per_gal: float
    net_weight_lb: float
    volume_gal: float
    least_gal: float
    least_pct: Mapping[str, float]
    most_pct: Mapping[str, float]
    least_slow_release_pct: float | None
    cost: float
    room_cost_per_gal: float
    findings: tuple[Finding, ...] = ()
    gap: float = 0.0
    least_chelated_pct: Mapping[str, float] = field(default_factory=dict)
