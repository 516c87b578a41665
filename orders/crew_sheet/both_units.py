"""Each figure of a crew sheet twice: in the units of the tank's gauge and in metric."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

from django.utils.translation import gettext as _

from blendshop.figures.readers import reader
from blendshop.figures.units import M2_PER_SQFT, METRIC
from formulas.engine.units import FL_OZ_PER_GAL, KG_PER_LB, L_PER_GAL, SQFT_PER_RATE_AREA

_M2_PER_SQFT: Final = float(M2_PER_SQFT)
#: Square metres of 1,000 sq ft, in hundreds: metric rates are stated per 100 m².
PER_100_M2: Final = 100.0 / (SQFT_PER_RATE_AREA * _M2_PER_SQFT)
#: From so much on a volume is read in whole gallons and tenths, below it in ounces too.
_SMALL_GAL: Final = 1.0


@dataclass(frozen=True, slots=True)
class Both:
    us: str
    metric: str

    @property
    def chosen(self) -> str:
        """The one in the system of who reads."""
        return self.metric if reader().units is METRIC else self.us


def product_rate(gal_per_1000sqft: float) -> Both:
    """Fluid ounces and gallons per 1,000 sq ft, millilitres per 100 m²."""
    us = _("{fl_oz} fl oz = {gal} gal per 1,000 sq ft").format(
        fl_oz=reader().number(gal_per_1000sqft * FL_OZ_PER_GAL, 1),
        gal=reader().number(gal_per_1000sqft, 3),
    )
    ml = gal_per_1000sqft * L_PER_GAL * 1000 * PER_100_M2
    return Both(us, _("{ml} mL per 100 m²").format(ml=reader().number(ml, 0)))


def spray_rate(gal_per_1000sqft: float) -> Both:
    litres = gal_per_1000sqft * L_PER_GAL * PER_100_M2
    return Both(
        _("{gal} gal per 1,000 sq ft").format(gal=reader().at_most(gal_per_1000sqft, 2)),
        _("{litres} L per 100 m²").format(litres=reader().number(litres, 1)),
    )


def nitrogen_rate(lb_per_1000sqft: float) -> Both:
    kg = lb_per_1000sqft * KG_PER_LB * PER_100_M2
    return Both(
        _("{lb} lb N per 1,000 sq ft").format(lb=reader().number(lb_per_1000sqft, 2)),
        _("{kg} kg N per 100 m²").format(kg=reader().number(kg, 2)),
    )


def volume(gal: float) -> Both:
    """Gallons, below one also in fluid ounces; litres."""
    us = _("{gal} gal").format(gal=reader().number(gal, 1 if gal >= _SMALL_GAL else 2))
    if gal < _SMALL_GAL:
        us = _("{fl_oz} fl oz ({gal} gal)").format(
            fl_oz=reader().number(gal * FL_OZ_PER_GAL, 1), gal=reader().number(gal, 2)
        )
    litres = gal * L_PER_GAL
    return Both(us, _("{litres} L").format(litres=reader().number(litres, 1 if gal >= 1 else 2)))


def area(sqft: float) -> Both:
    return Both(
        _("{sqft} sq ft").format(sqft=reader().number(sqft, 0)),
        _("{m2} m²").format(m2=reader().number(sqft * _M2_PER_SQFT, 0)),
    )


def caught(fl_oz: float) -> Both:
    """What runs into a cup."""
    ml = fl_oz / FL_OZ_PER_GAL * L_PER_GAL * 1000
    return Both(
        _("{fl_oz} fl oz").format(fl_oz=reader().number(fl_oz, 1)),
        _("{ml} mL").format(ml=reader().number(ml, 0)),
    )


def between(low: Both, high: Both) -> Both:
    words = _("{low} to {high}")
    return Both(
        words.format(low=low.us, high=high.us), words.format(low=low.metric, high=high.metric)
    )
