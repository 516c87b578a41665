"""Density, volume and mass of blends at one reference temperature, 60 F."""

from formulas.engine.density.fill import mass_lb_for, volume_gal_for
from formulas.engine.density.mixing import (
    blend_density_lb_per_gal,
    specific_volumes_gal_per_lb,
)

__all__ = [
    "blend_density_lb_per_gal",
    "mass_lb_for",
    "specific_volumes_gal_per_lb",
    "volume_gal_for",
]
