"""A hydrometer reading carried to the reference temperature.

Where all that is dissolved is known the published volumes say how far (``density.solutes``).
Otherwise:

UAN 28 and 30 lose 0.003 lb/gal per degree F, 0.028 % (computed from 10.76, 10.67 and 10.58
lb/gal at 30, 60 and 90 F: Virginia Cooperative Extension SPES-199). Water loses less and not
evenly (IAPWS-95). A blend is taken between the two by its dissolved solids, UAN 28 (70 % solids)
and stronger as UAN: our interpolation, no published source. Density alone is no assay: two
blends of one density may differ in every nutrient.
"""

from __future__ import annotations

import math
from collections.abc import Mapping
from typing import Final

import numpy as np

from formulas.engine.density.mixing import model_gal_per_lb
from formulas.engine.problem import BadProblem, FieldError
from formulas.engine.units import celsius

REFERENCE_F: Final = 60.0
UAN_LOSS_PER_F: Final = (10.76 - 10.58) / (90 - 30) / 10.67
UAN_SOLIDS_PCT: Final = 70.0
#: lb/gal of water at degrees F, IAPWS-95. Its maximum is at 39 F; below 40 F it is taken as flat,
#: which is off by less than 0.02 % down to freezing.
_WATER_F: Final = (40.0, 50.0, 60.0, 68.0, 70.0, 77.0, 80.0, 90.0, 100.0)
_WATER_LB_PER_GAL: Final = (
    8.3452, 8.3429, 8.3372, 8.3304, 8.3285, 8.3208, 8.3171, 8.3033, 8.2874,
)  # fmt: skip
#: Outside the published tables no correction is made.
LOWEST_F: Final = 30.0
HIGHEST_F: Final = 100.0


def density_at_reference(
    measured_lb_per_gal: float,
    temperature_f: float,
    *,
    reference_f: float = REFERENCE_F,
    dissolved_pct: float | None = None,
    solutes: Mapping[str, float] | None = None,
) -> float:
    """The density in lb/gal that a liquid read at ``temperature_f`` has at ``reference_f``.

    ``solutes`` in percent by weight by key of the engine's solutes, if all of them are known. Else
    ``dissolved_pct`` is the blend's dissolved solids, percent by weight; None takes a strong,
    UAN-type solution. Raises ``BadProblem`` for temperatures outside 30 to 100 F.

    >>> [round(density_at_reference(read, at), 2) for read, at in ((10.76, 30), (10.58, 90))]
    [10.67, 10.67]
    """
    errors = []
    if not (math.isfinite(measured_lb_per_gal) and measured_lb_per_gal > 0):
        errors.append(FieldError("measured_lb_per_gal", "Density must be a number above 0."))
    for name, degrees in (("temperature_f", temperature_f), ("reference_f", reference_f)):
        if not LOWEST_F <= degrees <= HIGHEST_F:
            errors.append(
                FieldError(name, f"Must be from {LOWEST_F:g} to {HIGHEST_F:g} degrees F.")
            )
    if dissolved_pct is not None and not 0 <= dissolved_pct <= 100:
        errors.append(FieldError("dissolved_pct", "Must be from 0 to 100 percent."))
    if errors:
        raise BadProblem(tuple(errors))
    if solutes is not None:
        fractions = {key: pct / 100.0 for key, pct in solutes.items()}
        there = model_gal_per_lb(fractions, celsius(temperature_f))
        return measured_lb_per_gal * there / model_gal_per_lb(fractions, celsius(reference_f))
    like_uan = 1.0 if dissolved_pct is None else min(1.0, dissolved_pct / UAN_SOLIDS_PCT)
    uan = _uan_ratio(temperature_f) / _uan_ratio(reference_f)
    water = _water_lb_per_gal(temperature_f) / _water_lb_per_gal(reference_f)
    return measured_lb_per_gal / (like_uan * uan + (1 - like_uan) * water)


def _uan_ratio(degrees_f: float) -> float:
    return 1.0 - UAN_LOSS_PER_F * (degrees_f - REFERENCE_F)


def _water_lb_per_gal(degrees_f: float) -> float:
    return float(np.interp(degrees_f, _WATER_F, _WATER_LB_PER_GAL))
