"""The two systems of units a figure may be shown in. Inside, everything stays in lb and gal.

Source: NIST Special Publication 811 (2008), appendix B, and NIST Handbook 44, appendix C: the
pound is 0.45359237 kg, the US gallon 231 cubic inches = 3.785411784 L, the foot 0.3048 m, all
exact; t/°C = (t/°F - 32) / 1.8. The acre is 43,560 square feet of this foot (SP 811 has it in the
survey foot, two parts in a million longer), the hectare 10,000 m². Symbols and the space before
them, also before °C: SP 811, 7.2.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from decimal import Decimal, localcontext
from fractions import Fraction
from typing import Final

KG_PER_LB: Final = Fraction("0.45359237")
L_PER_GAL: Final = Fraction("3.785411784")
M_PER_FT: Final = Fraction("0.3048")
M2_PER_SQFT: Final = M_PER_FT**2
SQFT_PER_ACRE: Final = 43_560
M2_PER_HA: Final = 10_000
#: Rates on turf are stated per 1,000 sq ft.
SQFT_PER_RATE_AREA: Final = 1_000
_DIGITS: Final = 50


@dataclass(frozen=True)
class Unit:
    """A unit to show: shown = (kept - ``zero``) × ``per_kept``, exact.

    ``more_places`` is added to the places asked for in the kept unit, so that a figure says about
    as much in either system.
    """

    mark: str
    per_kept: Fraction = Fraction(1)
    zero: Fraction = Fraction(0)
    more_places: int = 0

    def shown(self, kept: Decimal) -> Decimal:
        """The figure in this unit, to more digits than any paper shows."""
        exact = (Fraction(kept) - self.zero) * self.per_kept
        with localcontext(prec=_DIGITS):
            return Decimal(exact.numerator) / exact.denominator


@dataclass(frozen=True)
class Units:
    """One unit for each kind of quantity, named with the unit it is kept in."""

    name: str
    area_sqft: Unit
    mass_lb: Unit
    volume_gal: Unit
    density_lb_per_gal: Unit
    rate_lb_per_1000sqft: Unit
    temperature_f: Unit
    area_1000sqft: Unit
    distance_ft: Unit


US: Final = Units(
    name="us",
    area_sqft=Unit("acre", Fraction(1, SQFT_PER_ACRE)),
    mass_lb=Unit("lb"),
    volume_gal=Unit("gal"),
    density_lb_per_gal=Unit("lb/gal"),
    rate_lb_per_1000sqft=Unit("lb per 1,000 sq ft"),
    temperature_f=Unit("°F"),
    area_1000sqft=Unit("1,000 sq ft"),
    distance_ft=Unit("ft"),
)
METRIC: Final = Units(
    name="metric",
    area_sqft=Unit("ha", M2_PER_SQFT / M2_PER_HA),
    mass_lb=Unit("kg", KG_PER_LB),
    volume_gal=Unit("L", L_PER_GAL),
    density_lb_per_gal=Unit("kg/L", KG_PER_LB / L_PER_GAL, more_places=1),
    rate_lb_per_1000sqft=Unit(
        "g/m²", KG_PER_LB * 1000 / (M2_PER_SQFT * SQFT_PER_RATE_AREA), more_places=-1
    ),
    temperature_f=Unit("°C", Fraction(5, 9), Fraction(32)),
    area_1000sqft=Unit("100 m²", M2_PER_SQFT * SQFT_PER_RATE_AREA / 100),
    distance_ft=Unit("m", M_PER_FT, more_places=1),
)
SYSTEMS: Final[Mapping[str, Units]] = {units.name: units for units in (US, METRIC)}
