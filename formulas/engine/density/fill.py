"""How much a fill weighs and how much room it takes, by the blend's density."""

from __future__ import annotations

from formulas.engine.problem import Fill


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
