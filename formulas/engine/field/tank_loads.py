"""An area in tank loads: so many full tanks and one last, smaller one.

    spray for the area (gal) = area / 1,000 x spray volume
    full tanks               = spray / tank, rounded down; the rest is the last load

The last load is mixed for what is left of the area, so that nothing is left in the tank.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Final

from formulas.engine.problem import BadProblem, FieldError
from formulas.engine.units import SQFT_PER_RATE_AREA

#: A rest below this share of a tank is the rounding of floats and no load of its own.
_NOTHING: Final = 1e-9


@dataclass(frozen=True, slots=True)
class TankLoad:
    """One filling of the tank; product and water add up to the spray."""

    spray_gal: float
    product_gal: float
    water_gal: float
    area_sqft: float


@dataclass(frozen=True, slots=True)
class TankLoads:
    """``full_tanks`` times ``full``, then ``last``; None where the area ends with a full tank.

    ``full`` describes a full tank also where the area is smaller than one.
    """

    full_tanks: int
    full: TankLoad
    last: TankLoad | None

    @property
    def product_gal(self) -> float:
        """Of all loads together."""
        last = 0.0 if self.last is None else self.last.product_gal
        return self.full_tanks * self.full.product_gal + last


def tank_loads(
    *,
    area_sqft: float,
    tank_gal: float,
    product_gal_per_1000sqft: float,
    carrier_gal_per_1000sqft: float,
) -> TankLoads:
    """Deal an area out to tanks; raises ``BadProblem`` naming every wrong figure.

    >>> loads = tank_loads(
    ...     area_sqft=250_000,
    ...     tank_gal=200,
    ...     product_gal_per_1000sqft=0.25,
    ...     carrier_gal_per_1000sqft=2,
    ... )
    >>> loads.full_tanks, loads.full.product_gal, loads.last.spray_gal
    (2, 25.0, 100.0)
    """
    given = {
        "area_sqft": area_sqft,
        "tank_gal": tank_gal,
        "product_gal_per_1000sqft": product_gal_per_1000sqft,
        "carrier_gal_per_1000sqft": carrier_gal_per_1000sqft,
    }
    errors = [
        FieldError(name, "Must be a number above 0.")
        for name, value in given.items()
        if not (math.isfinite(value) and value > 0)
    ]
    if not errors and product_gal_per_1000sqft > carrier_gal_per_1000sqft:
        errors.append(
            FieldError("carrier_gal_per_1000sqft", "The spray volume includes the product.")
        )
    if errors:
        raise BadProblem(tuple(errors))
    share = product_gal_per_1000sqft / carrier_gal_per_1000sqft

    def load(spray_gal: float) -> TankLoad:
        product_gal = spray_gal * share
        area = spray_gal / carrier_gal_per_1000sqft * SQFT_PER_RATE_AREA
        return TankLoad(spray_gal, product_gal, spray_gal - product_gal, area)

    tanks = area_sqft / SQFT_PER_RATE_AREA * carrier_gal_per_1000sqft / tank_gal
    full_tanks = math.floor(tanks + _NOTHING)
    rest = tanks - full_tanks
    last = load(rest * tank_gal) if rest > _NOTHING else None
    return TankLoads(full_tanks, load(tank_gal), last)
