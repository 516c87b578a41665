"""How far a wish goes in a recipe, and the round value near it that can be had."""

from __future__ import annotations

import math

from formulas.engine.blend.linear_program import Model, Wish
from formulas.engine.blend.optimise import NOISE
from formulas.engine.blend.programs import Floats
from formulas.engine.blend.stock_table import stock_table
from formulas.engine.density.mixing import volume_gal
from formulas.engine.wishes import WishKind


def rounded_to_feasible(
    value: float, *, at_least: bool, scale: float, digits: int, steps_back: int = 0
) -> float:
    """``value`` to ``digits`` significant digits of ``scale``, on the side that can be had.

    A lower limit is rounded down, an upper limit up, then moved ``steps_back`` steps further.

        >>> rounded_to_feasible(24.937, at_least=True, scale=28, digits=3)
        24.9
        >>> rounded_to_feasible(3.512, at_least=False, scale=3.5, digits=3)
        3.52
    """
    if scale <= 0:
        return 0.0
    decimals = digits - 1 - math.floor(math.log10(scale))
    steps = value * 10.0**decimals
    # A value that is round already, but for the solver's last digits, stays as it is.
    slack = 1e-7
    steps = math.floor(steps + slack) if at_least else math.ceil(steps - slack)
    steps += -steps_back if at_least else steps_back
    return max(0.0, round(steps * 10.0**-decimals, max(decimals, 0)))


def wish_value(model: Model, wish: Wish, shares: Floats) -> float:
    """What a recipe (fractions, one a stock) reaches of a soft wish, in the wish's unit."""
    if wish.kind is WishKind.SLOW_RELEASE:
        total = float(shares @ model.n_n)
        return 100.0 * float(shares @ model.slow_n) / total if total > NOISE else math.nan
    if wish.kind is WishKind.MOST_STOCKS:
        return float(
            sum(
                1
                for stock, share in zip(model.stocks, shares, strict=True)
                if share > NOISE and not stock.is_water
            )
        )
    if wish.kind is WishKind.COST_PER_GAL:
        cost = float(shares @ stock_table(model.stocks).cost_per_lb)
        return cost / volume_gal(model.stocks, shares.tolist())
    (place,) = wish.places
    if place.is_row:
        return float(model.A[place.index, : len(model.stocks)] @ shares)
    return 100.0 * float(shares[place.index])
