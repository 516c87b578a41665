"""How large the invented plant is."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Final


@dataclass(frozen=True, slots=True)
class PlantSize:
    """How many of everything. Of the orders some are open, planned or made; the rest is shipped."""

    stocks: int
    costs_a_stock: int
    lots_a_stock: int
    customers: int
    blends: int
    quotes: int
    orders: int
    open_orders: int
    planned_orders: int
    made_orders: int
    planned_recipes: int
    tanks: int
    #: Of the quotes with a paper, those that were sent last.
    quote_papers: int

    @property
    def shipped_orders(self) -> int:
        return self.orders - self.open_orders - self.planned_orders - self.made_orders


SIZES: Final[Mapping[str, PlantSize]] = {
    "tiny": PlantSize(41, 2, 1, 6, 8, 12, 12, 3, 4, 2, 2, 3, 12),
    "small": PlantSize(80, 24, 4, 200, 2_000, 3_000, 3_000, 40, 20, 6, 6, 8, 20),
    "full": PlantSize(300, 24, 12, 2_000, 20_000, 30_000, 30_000, 400, 200, 60, 60, 8, 60),
}

#: Multiples of these, without their whole part, are spread evenly and never repeat: the roots of
#: 2, 3, 5, 7 (by Weyl's equidistribution theorem), so that every loading gives the same plant.
_STEPS: Final = (0.41421356, 0.73205081, 0.23606798, 0.64575131)


def spread(number: int, series: int = 0) -> float:
    """A figure from 0 to 1 for a running number; other series are independent of each other."""
    return (number * _STEPS[series]) % 1.0
