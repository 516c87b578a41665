"""Gallons for acres, and the packages that hold them.

    product (gal) = acres x 43.56 x N rate / (N % / 100 x density)

with the rate in pounds of total nitrogen per 1,000 sq ft: an acre is 43,560 sq ft (NIST Handbook
44, appendix C). Packages are bought whole, so what a round leaves over goes into the next one.
"""

from __future__ import annotations

import math
from collections.abc import Hashable, Iterable
from dataclasses import dataclass
from typing import Final

from formulas.engine.units import per_acre, product_gal_per_lb

#: Gallons that are rounding in floating point and no package more.
_NOISE_GAL: Final = 1e-6


@dataclass(frozen=True, slots=True)
class Wanted:
    """Gallons of ``product`` for one round, bought in packages of ``package_gal`` each.

    ``bought`` are its packages where they are ordered already; None: as many as it lacks.
    """

    product: Hashable
    gal: float
    package_gal: float
    bought: int | None = None


@dataclass(frozen=True, slots=True)
class Filled:
    """What one round takes: ``from_before_gal`` of what was left, and whole packages.

    ``over_gal`` is what is left of the product after it.
    """

    from_before_gal: float
    packages: int
    over_gal: float


def product_gal(
    acres: float, n_rate_lb_per_1000sqft: float, *, n_pct: float, density_lb_per_gal: float
) -> float:
    """Gallons of product that bring the rate of total nitrogen to so many acres.

    ``n_pct`` is total nitrogen, percent by weight, and must be above 0.
    """
    n_lb = acres * per_acre(n_rate_lb_per_1000sqft)
    return n_lb * product_gal_per_lb(n_pct, density_lb_per_gal)


def filled(rounds: Iterable[Wanted]) -> tuple[Filled, ...]:
    """Whole packages for each round, in the order they are sprayed; leftovers are used first."""
    left: dict[Hashable, float] = {}
    found = []
    for wanted in rounds:
        there = left.get(wanted.product, 0.0)
        used = min(there, wanted.gal)
        lacking = wanted.gal - used
        packages = wanted.bought
        if packages is None:
            packages = max(0, math.ceil((lacking - _NOISE_GAL) / wanted.package_gal))
        over = max(0.0, there - used + packages * wanted.package_gal - lacking)
        left[wanted.product] = over
        found.append(Filled(used, packages, over))
    return tuple(found)
