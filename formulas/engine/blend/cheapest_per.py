"""The cheapest blend per gallon or per pound of nitrogen: least cost over a sum of another kind.

With ``d_i`` what a pound of stock i holds of the unit (gallons, pounds of N)::

    min  sum c_i x_i / sum d_i x_i       over the recipes of the question

Charnes and Cooper (Programming with linear fractional functionals, Naval Research Logistics
Quarterly 9, 1962) turn such a ratio into one linear program. Dinkelbach's form of the same
(Management Science 13(7), 1967) leaves the question's own program, and so its yes/no choices and
its tie rule, as they are: for the ratio r reached so far, ``min sum (c_i - r d_i) x_i`` either
finds a recipe of a lower ratio or, being 0, proves that there is none. Each round gives a better
corner of finitely many, so it ends; three or four do.

**Exact** for nitrogen, and for gallons while the stocks mix ideally. Where they contract, ``d_i``
are the partial volumes in the recipe of the round before (they add up to its true volume). Rounds
end once the true cost per gallon no longer falls, which corners of a finite number allow only so
often: the recipe is the best of all that were looked at, but one that only its own contraction
would make cheaper is not ruled out.
"""

from __future__ import annotations

from typing import Final

import numpy as np

from formulas.engine.blend.linear_program import linear_model
from formulas.engine.blend.optimise import NOISE, Answer, optimise
from formulas.engine.blend.programs import Floats
from formulas.engine.blend.proved import Proved
from formulas.engine.blend.stock_table import N_COLUMN, in_code_order, stock_table
from formulas.engine.density.mixing import partial_volumes_gal_per_lb
from formulas.engine.problem import BlendProblem, Per
from formulas.engine.result import EngineFailure

#: A ratio falls for good in a handful of rounds; more means that the solver is not to be trusted.
_MOST_ROUNDS: Final = 50
#: Rounds in which volumes are brought into line with the recipe.
_VOLUME_ROUNDS: Final = 8
#: Dollars per pound by which a program may be below 0 and still prove the ratio.
_SETTLED: Final = 1e-10
#: Relatively; a cost per gallon that falls by less has settled.
_SAME: Final = 1e-9


def cheapest_per(problem: BlendProblem, proved: Proved | None = None) -> Answer | None:
    """The recipe of the least ratio, None when no recipe meets every wish.

    The answer's objective and duals are those of ``c - r d`` at the least ratio r: dollars per
    lb of blend. Where no recipe holds any nitrogen there is no ratio, and it is the cheapest.
    """
    if problem.cheapest_per is Per.LB_N:
        return _of_nitrogen(problem, proved)
    answer = optimise(problem, proved=proved)
    if answer is None:
        return None
    best, least = answer, np.inf
    for _ in range(_VOLUME_ROUNDS):
        found = least_ratio(problem, answer, gal_per_lb_in(answer), proved)
        ratio = cost_per_gal(found)
        if ratio >= least * (1.0 - _SAME):
            break
        best, least, answer = found, ratio, found
    return best


def _of_nitrogen(problem: BlendProblem, proved: Proved | None) -> Answer | None:
    stocks = in_code_order(problem.stocks)
    lb_n = stock_table(stocks).contents[:, N_COLUMN] / 100.0
    # The strongest has nitrogen if any recipe has.
    start = optimise(problem, -lb_n, proved)
    if start is None:
        return None
    if float(lb_n @ start.pct) / 100.0 <= NOISE:
        return optimise(problem, proved=proved)
    return least_ratio(problem, start, lb_n, proved)


def least_ratio(
    problem: BlendProblem, start: Answer, per_lb: Floats, proved: Proved | None
) -> Answer:
    """From any recipe to that of the least cost per ``per_lb`` (n,), sorted by code."""
    cost = linear_model(problem).cost
    shares = start.pct / 100.0
    for _ in range(_MOST_ROUNDS):
        ratio = float(cost @ shares) / float(per_lb @ shares)
        found = optimise(problem, cost - ratio * per_lb, proved)
        if found is None:
            raise EngineFailure("The solver calls the same question both possible and impossible.")
        if found.optimum.objective >= -_SETTLED:
            return found
        shares = found.pct / 100.0
    raise EngineFailure("The cheapest ratio does not settle.")


def gal_per_lb_in(answer: Answer) -> Floats:
    """Gallons that a pound of each stock adds in a recipe, shape (n,), in the order of codes."""
    stocks, parts = answer.model.stocks, (answer.pct / 100.0).tolist()
    return np.array(partial_volumes_gal_per_lb(stocks, parts))


def ideal_gal_per_lb(answer: Answer) -> Floats:
    """Gallons of a pound of each stock by itself, shape (n,), in the order of codes."""
    return np.array([1.0 / stock.density_lb_per_gal for stock in answer.model.stocks])


def cost_per_gal(answer: Answer) -> float:
    """What the stocks of a gallon of a recipe cost at its own volume, dollars."""
    cost_per_lb = stock_table(answer.model.stocks).cost_per_lb
    return float(cost_per_lb @ answer.pct) / float(gal_per_lb_in(answer) @ answer.pct)
