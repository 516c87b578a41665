"""How far a scale may be off at a test load, by its accuracy class, in scale divisions.

NIST Handbook 44, section 2.20 "Scales", as far as it could be read; each figure carries where it
was read. The state's own weights-and-measures text and the placed-in-service report decide.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from enum import StrEnum
from typing import Final

from formulas.engine.mark import Mark


class ScaleClass(StrEnum):
    """III: hopper, floor and bench scales. III L: vehicle, axle-load and railway scales."""

    III = "III"
    III_L = "III L"


@dataclass(frozen=True, slots=True)
class Sourced:
    """Where a figure was read and how far it may be trusted."""

    text: str
    mark: Mark


#: Up to so many divisions of test load, so many divisions off: class III, maintenance.
_III_STEPS: Final = ((500, 1.0), (2_000, 2.0), (4_000, 3.0))
#: Above the last of them.
_III_ABOVE: Final = 5.0
#: Class III L, maintenance: one division for each begun so many divisions of test load.
_III_L_STEP: Final = 500
#: Acceptance tolerance is this share of maintenance tolerance.
_ACCEPTANCE_SHARE: Final = 0.5
#: Most divisions a scale of either class has.
MOST_DIVISIONS: Final = 10_000
#: Recommended smallest load, divisions.
_SMALLEST_DIVISIONS: Final = {ScaleClass.III: 20, ScaleClass.III_L: 50}

SMALLEST_SOURCE: Final = Sourced(
    "NIST Handbook 44, sec. 2.20, Table 8, recommended minimum load", Mark.FROM_MEMORY
)
#: By class and whether the acceptance tolerance is meant.
_SOURCES: Final = {
    (ScaleClass.III, False): Sourced(
        "NIST Handbook 44, sec. 2.20, class III maintenance tolerance, as on a test form of the"
        " US Department of Agriculture for grain-inspection scales",
        Mark.VERIFIED,
    ),
    (ScaleClass.III, True): Sourced(
        "NIST Handbook 44, sec. 2.20, class III acceptance tolerance, as in a published tolerance"
        " curve (second-hand)",
        Mark.FROM_MEMORY,
    ),
    (ScaleClass.III_L, False): Sourced(
        "NIST Handbook 44, sec. 2.20, class III L maintenance tolerance", Mark.FROM_MEMORY
    ),
    (ScaleClass.III_L, True): Sourced(
        "NIST Handbook 44, sec. 2.20, class III L acceptance tolerance", Mark.FROM_MEMORY
    ),
}
#: Readings and loads are decimals carried as floats.
_NOISE_DIVISIONS: Final = 1e-6


def tolerance_divisions(
    load_divisions: float, scale_class: ScaleClass, *, is_acceptance: bool = False
) -> float:
    """Divisions either side of a test load. ``is_acceptance``: new, repaired or just adjusted.

    Raises ValueError for a load that is not above zero.

    >>> [tolerance_divisions(n, ScaleClass.III) for n in (500, 501, 2000, 2001, 4000, 4001)]
    [1.0, 2.0, 2.0, 3.0, 3.0, 5.0]
    >>> [tolerance_divisions(n, ScaleClass.III_L) for n in (500, 501, 1000, 1001)]
    [1.0, 2.0, 2.0, 3.0]
    >>> tolerance_divisions(1000, ScaleClass.III, is_acceptance=True)
    1.0
    """
    if not (math.isfinite(load_divisions) and load_divisions > 0):
        raise ValueError("A test load is above zero.")
    load = load_divisions - _NOISE_DIVISIONS
    if scale_class is ScaleClass.III:
        off = next((off for most, off in _III_STEPS if load <= most), _III_ABOVE)
    else:
        off = float(max(1, math.ceil(load / _III_L_STEP)))
    return off * _ACCEPTANCE_SHARE if is_acceptance else off


def tolerance_lb(
    load_lb: float, division_lb: float, scale_class: ScaleClass, *, is_acceptance: bool = False
) -> float:
    """Pounds either side of a test load; ValueError for a load or division not above zero.

    >>> tolerance_lb(1000, 5, ScaleClass.III), tolerance_lb(5000, 5, ScaleClass.III)
    (5.0, 10.0)
    """
    if not (math.isfinite(division_lb) and division_lb > 0):
        raise ValueError("A scale's division is above zero.")
    divisions = tolerance_divisions(load_lb / division_lb, scale_class, is_acceptance=is_acceptance)
    return divisions * division_lb


def is_within(load_lb: float, reading_lb: float, tolerance: float, division_lb: float) -> bool:
    """Whether a reading is no further from its test load than ``tolerance`` pounds."""
    return abs(reading_lb - load_lb) <= tolerance + _NOISE_DIVISIONS * division_lb


def smallest_load_lb(division_lb: float, scale_class: ScaleClass) -> float:
    """The recommended smallest load, lb; less than that belongs on a finer scale.

    >>> smallest_load_lb(5, ScaleClass.III)
    100
    """
    return _SMALLEST_DIVISIONS[scale_class] * division_lb


def tolerance_source(scale_class: ScaleClass, *, is_acceptance: bool = False) -> Sourced:
    """Where the tolerance of a class was read."""
    return _SOURCES[scale_class, is_acceptance]
