"""A density stated at another temperature, brought to 60 F.

Where the solutes are known the model says how far: ``rho(60) = rho(t) V(t) / V(60)``. Water goes by
its own table (Kell 1975). Anything else by 0.0020 lb/gal per degree F, give or take 0.0012: the
middle of the slopes of the salt solutions of the trade, 0.0009 (magnesium sulfate) to 0.0033
(calcium nitrate), computed from the same coefficients, with 0.002 for 10-34-0 and 0.003 for UAN
from extension tables.
"""

from __future__ import annotations

from collections.abc import Mapping
from typing import Final

from formulas.engine.density.mixing import model_gal_per_lb
from formulas.engine.density.solutes import REFERENCE_C
from formulas.engine.units import celsius, fahrenheit

REFERENCE_F: Final = fahrenheit(REFERENCE_C)
UNKNOWN_LB_PER_GAL_PER_F: Final = 0.0020


def density_at_60_f(
    density_lb_per_gal: float,
    temperature_f: float,
    solutes: Mapping[str, float] | None,
) -> float:
    """Density at 60 F of a liquid that has ``density_lb_per_gal`` at ``temperature_f``.

    ``solutes`` in percent by weight by key; empty for water, None where they are not known.
    A figure at 60 F is returned as it is.

    Ammonium nitrate of 50 %, 10.231 lb/gal at 68 F::

        >>> round(density_at_60_f(10.231, 68.0, {"NH4NO3": 50.0}), 3)
        10.249
    """
    if temperature_f == REFERENCE_F:
        return density_lb_per_gal
    if solutes is None:
        return density_lb_per_gal + UNKNOWN_LB_PER_GAL_PER_F * (temperature_f - REFERENCE_F)
    fractions = {key: pct / 100.0 for key, pct in solutes.items()}
    there = model_gal_per_lb(fractions, celsius(temperature_f))
    return density_lb_per_gal * there / model_gal_per_lb(fractions, REFERENCE_C)
