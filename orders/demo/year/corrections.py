"""Which loads of the year did not go as planned, and what was written about it. Invented."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Final

from orders.demo.year.weighing import Course
from orders.frozen.load_plan import LoadPlan

TOO_MUCH: Final = (
    "Too much of the first stock went in: the others follow it, and the load is larger."
    " Demo, invented."
)
SLIP: Final = "Typed a tenth of what the scale showed. Demo, invented."
RELEASED_ALL_THE_SAME: Final = (
    "Less than a tenth of a point below what was promised, by the certificates. Demo, invented."
)
#: Where among the loads that can be corrected.
_CORRECTED_AT: Final = (0.2, 0.5, 0.8)
_SLIP_AT: Final = 0.6
#: A load this full has room for what a correction adds.
_FULL: Final = 0.93


def courses_of(plans: Sequence[LoadPlan]) -> list[Course]:
    """How each load went; three are corrected, of one a weight was typed wrongly."""
    courses = [Course.PLAIN] * len(plans)
    suits = [place for place, plan in enumerate(plans) if _has_room(plan)]
    for at in _CORRECTED_AT:
        if suits:
            courses[suits[int(at * len(suits))]] = Course.CORRECTED
    for place in range(int(_SLIP_AT * len(plans)), len(plans)):
        if courses[place] is Course.PLAIN and not plans[place].steps[1].is_water:
            courses[place] = Course.SLIP
            break
    return courses


def _has_room(plan: LoadPlan) -> bool:
    is_water_first = plan.steps[0].is_water
    return is_water_first and plan.volume_gal <= _FULL * plan.tank.capacity_gal
