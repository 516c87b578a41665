"""What was weighed for a load: every weight a little off, some so far that it was put right."""

from __future__ import annotations

from dataclasses import dataclass
from enum import Enum
from random import Random
from typing import Final

from formulas.engine_bridge import exact
from orders.frozen.load_plan import LoadPlan, PlannedWeighing, Weighing

#: Minutes from one stock to the next.
STEP_MINUTES: Final = 9
#: Standard deviation of a weight, as a part of the tolerance of its step.
_SPREAD: Final = 0.38
#: Of how much too much of the first stock went in where a load was corrected.
_TOO_MUCH: Final = 0.05


class Course(Enum):
    """How the charging of a load went."""

    PLAIN = "plain"
    CORRECTED = "corrected"
    SLIP = "slip"


@dataclass(frozen=True, slots=True)
class Weight:
    """Pounds of a stock at a step, whole divisions; ``reversed_`` was written down wrongly."""

    step: int
    code: str
    lb: float
    minutes: int
    is_reversed: bool = False


@dataclass(frozen=True, slots=True)
class Weighed:
    """Everything that was weighed, and what a correction added behind the plan."""

    course: Course
    weights: tuple[Weight, ...]
    additions: tuple[Weighing, ...] = ()

    @property
    def minutes(self) -> int:
        """From the first weight to the last."""
        return self.weights[-1].minutes


def weighed(plan: LoadPlan, course: Course, chance: Random) -> Weighed:
    """The weights of one load; with a correction the other stocks follow what was too much."""
    weights = []
    for number, step in enumerate(plan.steps, start=1):
        lb = _off(step, chance)
        minutes = number * STEP_MINUTES
        if number == 1 and course is Course.CORRECTED:
            lb = _whole(step.weight_lb * (1 + _TOO_MUCH), step.scale_step_lb)
        if number == 2 and course is Course.SLIP:
            slip = _whole(step.weight_lb / 10, step.scale_step_lb)
            weights.append(Weight(number, step.code, slip, minutes - 3, is_reversed=True))
        weights.append(Weight(number, step.code, lb, minutes))
    if course is not Course.CORRECTED:
        return Weighed(course, tuple(weights))
    additions = tuple(_more_of(step) for step in plan.steps[1:])
    last = weights[-1].minutes + 40
    weights += [
        Weight(len(plan.steps) + n, each.code, each.weight_lb, last + n * STEP_MINUTES)
        for n, each in enumerate(additions, start=1)
    ]
    return Weighed(course, tuple(weights), additions)


def _more_of(step: PlannedWeighing) -> Weighing:
    """As much more of a stock as keeps the recipe beside too much of the first."""
    lb = max(step.scale_step_lb, _whole(step.weight_lb * _TOO_MUCH, step.scale_step_lb))
    return Weighing.of_stock(step, lb, tolerance_lb=step.scale_step_lb, scale=step.scale)


def _off(step: PlannedWeighing, chance: Random) -> float:
    tolerance = step.tolerance_lb or 0.0
    off = max(-tolerance, min(tolerance, chance.gauss(0.04, _SPREAD) * tolerance))
    whole = int(off / step.scale_step_lb)  # towards the target: on target it stays
    return float(exact(step.weight_lb) + whole * exact(step.scale_step_lb))


def _whole(lb: float, division_lb: float) -> float:
    return float(round(lb / division_lb) * exact(division_lb))
