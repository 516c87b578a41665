"""What the page of one scale shows besides its verifications."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

from formulas.engine.plant.scale_tolerance import (
    MOST_DIVISIONS,
    SMALLEST_SOURCE,
    Sourced,
    tolerance_lb,
    tolerance_source,
)
from orders.scales.standing import ScaleStanding

#: Test loads whose tolerance the page shows, divisions.
_SHOWN: Final = (500, 1_000, 2_000, 4_000, MOST_DIVISIONS)


@dataclass(frozen=True, slots=True)
class Allowed:
    """Up to a test load, how far off the scale may read; lb."""

    up_to_lb: float
    maintenance_lb: float
    acceptance_lb: float


@dataclass(frozen=True, slots=True)
class Tolerances:
    """Of one scale, with where they were read."""

    rows: tuple[Allowed, ...]
    maintenance: Sourced
    acceptance: Sourced
    smallest: Sourced


def tolerances(scale: ScaleStanding) -> Tolerances:
    """What a scale of this class and division is held to."""
    division, of_class = scale.division_lb, scale.scale_class
    rows = tuple(
        Allowed(
            divisions * division,
            tolerance_lb(divisions * division, division, of_class),
            tolerance_lb(divisions * division, division, of_class, is_acceptance=True),
        )
        for divisions in _SHOWN
    )
    return Tolerances(
        rows,
        tolerance_source(of_class),
        tolerance_source(of_class, is_acceptance=True),
        SMALLEST_SOURCE,
    )
