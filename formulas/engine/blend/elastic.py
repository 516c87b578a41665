"""The recipe nearest to a set of wishes that cannot all be met.

Every soft wish w gets a slack ``t_w >= 0`` in its own unit, weighted by one over what was asked::

    min  sum t_w / asked_w                       as little as possible in all
    min  max t_w / asked_w                       evenly: the worst-off wish loses least

Facts of the stocks and compatibility rules stay as they are.
"""

from __future__ import annotations

import numpy as np

from formulas.engine.blend.highs import Session
from formulas.engine.blend.linear_program import Model, Wish
from formulas.engine.blend.programs import Floats, Limits, Program
from formulas.engine.wishes import WishKind

#: In the even recipe the sum still counts a little, or wishes would be given up for nothing.
_SUM_BESIDE_WORST = 1e-3


def nearest_shares(model: Model, *, evenly: bool) -> Floats | None:
    """Shares (fractions, one a stock) that miss the soft wishes least.

    None if even giving up every soft wish leaves no recipe.
    """
    soft = [wish for wish in model.wishes if wish.is_soft]
    hard = [wish for wish in model.wishes if not wish.is_soft]
    if not soft:
        return None
    count, (m, n) = len(soft), model.A.shape
    weights = np.array([1.0 / _unit(model, wish) for wish in soft])
    # Columns: the model's, one slack a soft wish, the worst slack. Rows: the model's, the soft
    # wishes, and weight x slack <= worst.
    A = np.zeros((m + 2 * count, n + count + 1))
    A[:m, :n] = model.A
    limits = model.limits(hard)
    row_lower = np.concatenate([limits.row_lower, np.full(2 * count, -np.inf)])
    row_upper = np.concatenate([limits.row_upper, np.full(2 * count, np.inf)])
    for position, wish in enumerate(soft):
        (place,) = wish.places
        row = m + position
        if place.is_row:
            A[row, :n] = model.A[place.index]
        else:
            A[row, place.index] = 1.0
        A[row, n + position] = 1.0 if wish.at_least else -1.0
        (row_lower if wish.at_least else row_upper)[row] = place.value
        A[row + count, n + position] = weights[position]
        A[row + count, -1] = -1.0
        row_upper[row + count] = 0.0
    cost = np.zeros(n + count + 1)
    cost[n:-1] = weights * (_SUM_BESIDE_WORST if evenly else 1.0)
    cost[-1] = 1.0 if evenly else 0.0
    program = Program(
        cost=cost,
        A=A,
        limits=Limits(
            row_lower,
            row_upper,
            np.concatenate([limits.col_lower, np.zeros(count + 1)]),
            np.concatenate([limits.col_upper, np.full(count + 1, np.inf)]),
        ),
        integer=np.concatenate([model.integer, np.zeros(count + 1, dtype=bool)]),
    )
    optimum = Session(program).run()
    if optimum is None:
        return None
    shares: Floats = np.maximum(optimum.x[: len(model.stocks)], 0.0)
    return shares


def _unit(model: Model, wish: Wish) -> float:
    """What was asked, in the unit of the wish's row; 1 where nothing was asked (at most 0)."""
    asked = wish.asked or 0.0
    if wish.kind is WishKind.STOCK_LIMIT:
        asked /= 100.0
    elif wish.kind is WishKind.COST_PER_GAL:
        # The row counts dollars per lb, of which a gallon of the usual stock holds so many.
        asked *= float(np.mean([1.0 / stock.density_lb_per_gal for stock in model.stocks]))
    elif wish.kind is WishKind.SLOW_RELEASE:
        # The row counts percent of product; the nitrogen asked for turns the share into that.
        wished = [
            other.asked
            for other in model.wishes
            if other.kind is WishKind.NUTRIENT and other.id.key == "N" and other.asked
        ]
        asked *= (max(wished) if wished else float(model.n_n.max())) / 100.0
    return asked if asked > 0 else 1.0
