"""Every limit of a question as a row over the weights of the stocks that are used.

For weights ``w`` (lb) and a heel of ``m_h`` lb with content ``a_h`` (percent)::

    sum (A_ki - G_k) w_i + (a_h - G_k) m_h >= 0        a minimum G_k (<= 0 a maximum)
    sum (slow_i - s N_i) w_i + (slow_h - s N_h) m_h >= 0        the slow share s
    w_i - p sum w_i >= 0                               a stock's least share p of what is charged

In words: what is there beyond a limit, in percent times pounds, is not negative. Shares of
stocks and compatibility ratios are of what is charged; nobody knows what a heel was made from.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace

import numpy as np

from formulas.engine.blend.choices import rule_id
from formulas.engine.blend.linear_program import Wish, linear_model
from formulas.engine.blend.programs import Floats
from formulas.engine.composition import content_pct, slow_n_pct
from formulas.engine.problem import BlendProblem, CompatibilityRule, Effect, Stock
from formulas.engine.wishes import Side, WishId, WishKind


@dataclass(frozen=True, slots=True)
class Guard:
    """``row`` over weights in lb plus ``constant`` is not negative while ``limit`` is kept."""

    limit: WishId
    row: Floats
    constant: float = 0.0


def limit_guards(
    problem: BlendProblem,
    stocks: Sequence[Stock],
    heel_lb: float = 0.0,
    heel_analysis: Mapping[str, float] | None = None,
) -> list[Guard]:
    """Every limit of the problem as a guard over the weights of ``stocks`` (some of its own)."""
    # What a load costs follows from the recipe it is made by and is no promise about the tank.
    model = linear_model(replace(problem, cost_ceiling=None))
    column = {stock.code: i for i, stock in enumerate(model.stocks)}
    used = [column[stock.code] for stock in stocks]
    guards = []
    for wish in model.wishes:
        (place,) = wish.places
        row = model.A[place.index, used] if place.is_row else np.array(used) == place.index
        # sum a_i w_i >= G sum w_i, so each coefficient carries the limit itself.
        over = row.astype(float) - place.value
        of_heel = _of_heel(wish, heel_analysis or {}) * heel_lb
        sign = 1.0 if wish.at_least else -1.0
        guards.append(Guard(wish.id, sign * over, sign * of_heel))
    for index, rule in enumerate(problem.rules):
        guards += _rule_guards(rule_id(index), rule, stocks)
    if problem.smallest_charge_pct > 0:
        least = problem.smallest_charge_pct / 100.0
        limit = WishId(WishKind.SMALLEST_CHARGE, Side.LEAST)
        guards += [Guard(limit, row - least) for row in np.eye(len(stocks))]
    return guards


def _of_heel(wish: Wish, analysis: Mapping[str, float]) -> float:
    """What a pound of heel adds to a wish's row: nothing to shares of what is charged."""
    if wish.kind is WishKind.NUTRIENT:
        return content_pct(analysis, wish.id.key) - (wish.asked or 0.0)
    if wish.kind is WishKind.SLOW_RELEASE:
        return slow_n_pct(analysis) - (wish.asked or 0.0) / 100.0 * content_pct(analysis, "N")
    return 0.0


def _rule_guards(limit: WishId, rule: CompatibilityRule, stocks: Sequence[Stock]) -> list[Guard]:
    if rule.effect is not Effect.LIMIT:
        return []
    is_b = np.array([rule.trait_b in stock.traits for stock in stocks], dtype=float)
    guards = []
    for j in np.flatnonzero(is_b):
        limited = np.array(
            [rule.trait_a in stock.traits and i != j for i, stock in enumerate(stocks)],
            dtype=float,
        )
        if limited.any():
            most = (
                is_b * rule.largest_ratio
                if rule.largest_ratio is not None
                else (np.full(len(stocks), (rule.largest_pct or 0.0) / 100.0))
            )
            guards.append(Guard(limit, most - limited))
    return guards
