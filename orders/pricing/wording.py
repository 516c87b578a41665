"""Numbers and counts inside the sentences that explain a price step. English, for reading."""

from __future__ import annotations

from decimal import Decimal
from typing import Final

from blendshop.figures.writing import Figures
from blendshop.money import unit_price

#: Price steps are kept with the quote, and pricing knows no settings: English, US units.
_FIGURES: Final = Figures()


def number(value: Decimal, places: int = 1) -> str:
    """``Decimal("2855.10")`` as ``2,855.1``: thousands marked, no trailing zeros."""
    return _FIGURES.at_most(value, places)


def percent(value: Decimal) -> str:
    """``1.5 %``, at most two places."""
    return f"{number(value, 2)} %"


def rate(value: Decimal, currency: str) -> str:
    """A rate in money: to the cent if that is exact, else to four places."""
    return _FIGURES.unit_price(unit_price(value), currency)


def count(quantity: int, one: str, many: str) -> str:
    """``1 tote``, ``5 totes``; ``5 × 265 gal totes``, so that no figure runs into the next."""
    name = one if quantity == 1 else many
    mark = " × " if name[:1].isdigit() else " "
    return f"{_FIGURES.every_digit(quantity)}{mark}{name}"
