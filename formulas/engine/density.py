"""Density, mass and volume by ideal mixing: volumes add, ``V = sum(m_i / rho_i)``.

An estimate. Diluting UAN 32 with water to 28 contracts by about 0.4 %, computed from the
densities in Virginia Cooperative Extension SPES-199 and the Kansas-type extension sheet
"Estimated physical characteristics of fertilizer material"; a measured density replaces it.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping

from formulas.engine.problem import Fill, Stock
from formulas.engine.result import Share


def ideal_density_lb_per_gal(stocks: Mapping[str, Stock], shares: Iterable[Share]) -> float:
    """Density of a blend, lb per US gal; ``stocks`` by code, shares in percent by weight.

    Half UAN 28 at 10.67 and half water at 8.34 lb/gal::

        >>> from formulas.engine.problem import Stock
        >>> uan = Stock("U", "UAN 28", 10.67, 0.2, {"N.urea": 14.0})
        >>> water = Stock("W", "Water", 8.34, 0.0, {}, traits=frozenset({"water"}))
        >>> halves = [Share("U", 50.0), Share("W", 50.0)]
        >>> round(ideal_density_lb_per_gal({"U": uan, "W": water}, halves), 3)
        9.362
    """
    mass = volume = 0.0
    for share in shares:
        mass += share.pct
        volume += share.pct / stocks[share.code].density_lb_per_gal
    return mass / volume


def specific_volumes_gal_per_lb(
    stocks: Mapping[str, Stock], shares: Iterable[Share]
) -> dict[str, float]:
    """Gallons that a pound of each stock of ``shares`` takes up in this blend, by code.

    By ideal mixing the same in every blend. Times the shares they add up to the blend's volume.
    """
    return {share.code: 1.0 / stocks[share.code].density_lb_per_gal for share in shares}


def mass_lb_for(fill: Fill, density_lb_per_gal: float) -> float:
    """Mass to make in lb: the fill's mass, or its volume times the density."""
    if fill.mass_lb is not None:
        return fill.mass_lb
    assert fill.volume_gal is not None  # noqa: S101 - validate refuses a fill without either
    return fill.volume_gal * density_lb_per_gal


def volume_gal_for(fill: Fill, density_lb_per_gal: float) -> float:
    """Volume to make in US gal: the fill's volume, or its mass over the density."""
    if fill.volume_gal is not None:
        return fill.volume_gal
    return mass_lb_for(fill, density_lb_per_gal) / density_lb_per_gal
