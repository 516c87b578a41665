"""Where a wish of the contract stands on the page."""

from __future__ import annotations

from dataclasses import dataclass
from enum import Enum, auto

from formulas.engine.wishes import Side


class Origin(Enum):
    """Who asks for a figure: only what is typed can be typed anew."""

    TYPED = auto()
    LAW = auto()
    ON_HAND = auto()
    MARGIN = auto()


class Unit(Enum):
    """What a figure counts: percent by weight or of total nitrogen, stocks, dollars.

    ``PRICE`` is a selling price, worked back to what the material may cost; ``COST`` that cost.
    """

    PCT = auto()
    PCT_OF_N = auto()
    STOCKS = auto()
    PRICE = auto()
    COST = auto()


@dataclass(frozen=True, slots=True)
class WishPlace:
    """One figure of the wish.

    ``key`` is the nutrient, ``SLOW_RELEASE`` or the stock's code and ``subject`` its name inside
    a sentence; ``side`` is None where a share is fixed. ``field`` is the field of the form that
    holds the figure, empty unless it was typed.
    """

    key: str
    subject: str
    side: Side | None
    asked: float
    unit: Unit
    origin: Origin = Origin.TYPED
    field: str = ""
