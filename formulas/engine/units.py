"""Exact units of the trade and the few conversions that everything else shares.

Source: NIST Special Publication 811 (2008), appendix B, and NIST Handbook 44, appendix C: the
pound is 0.45359237 kg and the US gallon 231 cubic inches = 3.785411784 L, both exact; a gallon
is 128 fluid ounces, an acre 43,560 sq ft, a short ton 2,000 lb. Fertilizer units: 1 percent of
a ton of 2,000 lb is one unit (O.C.G.A. 2-12-2).
"""

from __future__ import annotations

from typing import Final

KG_PER_LB: Final = 0.45359237
L_PER_GAL: Final = 3.785411784
FL_OZ_PER_GAL: Final = 128.0
SQFT_PER_ACRE: Final = 43_560.0
#: Rates on turf are stated per 1,000 sq ft.
SQFT_PER_RATE_AREA: Final = 1_000.0
LB_PER_TON: Final = 2_000


def content_lb(mass_lb: float, content_pct: float) -> float:
    """Pounds of a nutrient in ``mass_lb`` of product holding ``content_pct`` by weight."""
    return mass_lb * content_pct / 100.0


def content_lb_per_gal(content_pct: float, density_lb_per_gal: float) -> float:
    """Pounds of a nutrient in a gallon of product."""
    return content_lb(density_lb_per_gal, content_pct)


def product_lb_per_lb(content_pct: float) -> float:
    """Pounds of product that bring one pound of a nutrient; the content must be above 0."""
    return 100.0 / content_pct


def product_gal_per_lb(content_pct: float, density_lb_per_gal: float) -> float:
    """Gallons of product that bring one pound of a nutrient; the content must be above 0."""
    return product_lb_per_lb(content_pct) / density_lb_per_gal


def per_acre(per_1000sqft: float) -> float:
    """A rate per 1,000 sq ft as a rate per acre: 43.56 times as much."""
    return per_1000sqft * SQFT_PER_ACRE / SQFT_PER_RATE_AREA


def celsius(temp_f: float) -> float:
    """Degrees Fahrenheit as degrees Celsius."""
    return (temp_f - 32.0) / 1.8


def fahrenheit(temp_c: float) -> float:
    """Degrees Celsius as degrees Fahrenheit."""
    return temp_c * 1.8 + 32.0
