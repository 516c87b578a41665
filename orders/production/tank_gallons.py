"""Gallons of what was charged onto a heel: each by the density it is known by."""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class TankGallons:
    """A heel has its own volume; what is charged follows the product's measured density.

    ``density_correction`` is the measured density over the modelled one. ``modelled_heel_gal`` is
    what the model of a whole tank counts for its heel.
    """

    heel_gal: float
    modelled_heel_gal: float
    density_correction: float

    def of_model(self, modelled_gal: float) -> float:
        """Gallons of a whole tank that the model counts as ``modelled_gal``."""
        charged_gal = (modelled_gal - self.modelled_heel_gal) / self.density_correction
        return self.heel_gal + charged_gal

    def in_model(self, gal: float) -> float:
        """The other way: what the model counts when the tank really holds ``gal``."""
        return self.modelled_heel_gal + (gal - self.heel_gal) * self.density_correction
