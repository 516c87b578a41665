"""Open orders as they are asked about, and what one pound of them means."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Final

import numpy as np

from formulas.engine.blend.programs import Floats
from formulas.engine.density.mixing import partial_volumes_gal_per_lb
from formulas.engine.problem import (
    NutrientWish,
    SlowReleaseWish,
    Stock,
)

#: By so much more a changed recipe of ordered gallons is made: its shares and its density are
#: rounded later, and still have to fill them.
_SURPLUS: Final = 1e-4
#: The same where volumes are not ideal: partial volumes hold near the own recipe only. Our own
#: allowance, below the half percent that a load may be off in volume.
_SURPLUS_DISSOLVED: Final = 2e-3
#: What changing a pound costs above the dearest stock, $/lb, so that no saving ever pays for it.
_CHANGE: Final = 0.01


@dataclass(frozen=True, slots=True)
class OpenOrder:
    """An order not made yet. ``recipe`` holds percent by weight by stock code.

    ``penalty_per_lb`` says what leaving a pound unmade is worth ($/lb), see ``penalty_per_lb``.
    ``may_change``: another recipe within ``wishes`` and ``slow_release`` (its guarantees) will do.
    ``by_volume``: gallons are ordered, so another recipe makes as many gallons as ``mass_lb`` of
    the own one and may weigh more or less. ``may_be_partial``: part of it may be made now;
    otherwise all or nothing. ``exclude``: codes of stocks that may not join its recipe.
    """

    code: str
    mass_lb: float
    recipe: Mapping[str, float]
    penalty_per_lb: float
    wishes: tuple[NutrientWish, ...] = ()
    slow_release: SlowReleaseWish | None = None
    may_change: bool = False
    by_volume: bool = False
    may_be_partial: bool = False
    exclude: frozenset[str] = frozenset()


def own_lb_per_lb(order: OpenOrder, stocks: Sequence[Stock]) -> Floats:
    """Pounds of each stock in a pound of the order by its own recipe."""
    return np.array([order.recipe.get(stock.code, 0.0) for stock in stocks]) / 100.0


def filled_lb_per_lb(order: OpenOrder, stocks: Sequence[Stock]) -> Floats:
    """What a pound of each stock fills of a pound of the own recipe, ``q_gi`` of the module.

    By its partial volume in the own recipe, which is exact for ideal mixing; see ``surplus``.
    """
    if not order.by_volume:
        return np.ones(len(stocks))
    own = own_lb_per_lb(order, stocks)
    gal_per_lb = np.array(partial_volumes_gal_per_lb(stocks, own.tolist()))
    return gal_per_lb * float(own.sum() / (own @ gal_per_lb))


def surplus(order: OpenOrder, stocks: Sequence[Stock]) -> float:
    """The fraction by which a changed recipe is made more, so that it fills its gallons."""
    if not order.by_volume:
        return 0.0
    return _SURPLUS_DISSOLVED if any(stock.solutes for stock in stocks) else _SURPLUS


def change_per_lb(stocks: Sequence[Stock]) -> float:
    """What changing a pound costs beside its stocks, ``d`` of the module, $/lb."""
    return max((stock.cost_per_lb for stock in stocks), default=0.0) + _CHANGE


def average_lb(orders: Sequence[OpenOrder]) -> float:
    """Size of an average order, the unit of the stock rows."""
    return float(np.mean([order.mass_lb for order in orders]))
