"""A figure typed at the dock against what the stock usually is and what a truck can carry.

What differs from the stock's typical figure by more than ``USUAL_DIFFERENCE_PCT`` is asked about
once more; what looks like a slip of the decimal point, or weighs more than a truck may carry, is
refused until the same figure is given a second time. Other figures are taken as they come.

The stock tanks have no size on file; a lot larger than a truck is the sign of that slip too.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from decimal import Decimal
from enum import StrEnum
from typing import Any, Final

from blendshop.errors import BadInput
from blendshop.figures.readers import house
from formulas.engine.composition import guarantee_name
from formulas.models import BaseStock
from orders.pricing.terms import FEDERAL_GROSS_LIMIT_LB

#: Lots of one stock differ by a few percent; common practice, no source.
USUAL_DIFFERENCE_PCT: Final = 10.0
#: Differences below this many percentage points are no question: so small a content may well be
#: double or nothing. Common practice, no source.
CONTENT_FLOOR_PCT: Final = 0.05
#: A decimal point one place off makes a factor of 10; the lot itself may differ as well, so from
#: here on, either way, it is taken for that slip. Common practice, no source.
SLIP_FACTOR: Final = 8.0
#: Tractor and tank trailer without their load, lb: common practice, no source. A published
#: lightweight one weighs 26,320 lb (trade press, October 2003).
EMPTY_TRUCK_LB: Final = Decimal(32_000)
#: What a delivery by road can weigh: the federal limit of truck and load less the empty truck.
TRUCKLOAD_LB: Final = FEDERAL_GROSS_LIMIT_LB - EMPTY_TRUCK_LB

#: Names of the two figures that are no content.
MASS: Final = "mass_lb"
DENSITY: Final = "density_lb_per_gal"


class Asks(StrEnum):
    """What a doubtful figure asks of the person who typed it."""

    LOOK_AGAIN = "look_again"
    TYPE_AGAIN = "type_again"


@dataclass(frozen=True, slots=True)
class Doubt:
    """A figure that needs a second word. ``name`` is ``MASS``, ``DENSITY`` or a content's key.

    ``usual`` is the typical figure, of a mass the truckload.
    """

    name: str
    given: Decimal | float
    usual: Decimal | float
    asks: Asks

    @property
    def words(self) -> str:
        """Why it is doubted and what to do, for the person."""
        ask = (
            "If it is right, type it again below."
            if self.asks is Asks.TYPE_AGAIN
            else "Look again, and tick below if it is right."
        )
        return f"{self.said} {ask}"

    @property
    def said(self) -> str:
        """The figure against the usual one, in a sentence."""
        figures = house()
        if self.name == MASS:
            return (
                f"{figures.weighed(Decimal(self.given))} is more than a truck carries, about"
                f" {figures.weighed(Decimal(self.usual))}."
            )
        if self.name == DENSITY:
            what, unit = "A density of", "lb/gal"
        else:
            what, unit = guarantee_name(self.name), "%"
        given, usual = (figures.significant(float(each), 4) for each in (self.given, self.usual))
        return f"{what} {given} {unit} is far from this stock's typical {usual} {unit}."


def doubts(
    stock: BaseStock,
    *,
    mass_lb: Decimal | None = None,
    density_lb_per_gal: float | None = None,
    figures: Mapping[str, float] | None = None,
) -> list[Doubt]:
    """The figures that need a second word, mass first, then density, then contents.

    A stock without contents of its own, such as kept rinse water, has no typical figures: each
    lot brings its own.
    """
    typical = stock.analysis()
    found = []
    if mass_lb is not None and mass_lb > TRUCKLOAD_LB:
        found.append(Doubt(MASS, mass_lb, TRUCKLOAD_LB, Asks.TYPE_AGAIN))
    if density_lb_per_gal is not None and typical:
        found += _doubt(DENSITY, density_lb_per_gal, stock.density_lb_per_gal, floor=0.0)
    for key, pct in (figures or {}).items():
        # What no content can be is refused for good by the lot's own rules.
        if key in typical and 0 <= pct <= 100:
            found += _doubt(key, pct, typical[key], floor=CONTENT_FLOOR_PCT)
    return found


def require_confirmed(
    found: list[Doubt], again: Mapping[str, Decimal | float]
) -> list[dict[str, Any]]:
    """What was confirmed, for the lot's event; BadInput by name while a second word is missing.

    ``again`` has the figures as they were given the second time, by name.
    """
    missing = {doubt.name: doubt.words for doubt in found if again.get(doubt.name) != doubt.given}
    if missing:
        raise BadInput(" ".join(missing.values()), fields=missing)
    return [
        {
            "name": doubt.name,
            "given": float(doubt.given),
            "usual": float(doubt.usual),
            "asked": doubt.asks.value,
        }
        for doubt in found
    ]


def confirmed_words(found: list[Doubt]) -> str:
    """What was confirmed, in a sentence; empty when nothing was doubted."""
    return " ".join(["Confirmed:", *(doubt.said for doubt in found)]) if found else ""


def _doubt(name: str, given: float, usual: float, *, floor: float) -> Iterator[Doubt]:
    difference = abs(given - usual)
    if difference <= max(floor, usual * USUAL_DIFFERENCE_PCT / 100):
        return
    is_slip = given >= usual * SLIP_FACTOR or given * SLIP_FACTOR <= usual
    yield Doubt(name, given, usual, Asks.TYPE_AGAIN if is_slip else Asks.LOOK_AGAIN)
