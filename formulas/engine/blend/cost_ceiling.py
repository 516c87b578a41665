"""A gallon costs at most so much: the ceiling drawn as a row, at the volume the blend really has.

``c x <= C V(x)`` would be linear if volumes added up. V is homogeneous, so at a recipe y the
partial volumes ``v(y)`` give ``V(y) = v(y) y`` exactly (Euler), and near it ``V(x)`` closely::

    sum (c_i - C v_i(y)) x_i <= 0

The row is drawn at the recipe found so far and the question answered again until the recipe no
longer moves. Where the liquids contract, V is convex along mixtures and a row drawn anywhere asks
for more than the ceiling itself; where they swell (UAN and ammonium sulfate do) it may ask for
less. So each answer is checked at its true volume, and rounds begin at two recipes: the best
without a ceiling, and the best with the volumes the liquids have by themselves. The better end is
the answer; that there is no better one is proved only where the volumes add up.

Whether anything is within the ceiling at all is asked of the least cost per gallon that the other
wishes allow (``cheapest_per``), never of a row drawn elsewhere.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, replace
from typing import Final

import numpy as np

from formulas.engine.blend.cheapest_per import (
    cheapest_per,
    cost_per_gal,
    gal_per_lb_in,
    ideal_gal_per_lb,
    least_ratio,
)
from formulas.engine.blend.linear_program import Model, gal_per_lb
from formulas.engine.blend.optimise import NOISE, Answer
from formulas.engine.blend.programs import Floats, Optimum
from formulas.engine.blend.proved import Proved
from formulas.engine.blend.stock_table import TABLE_COLUMN, in_code_order, stock_table
from formulas.engine.blend.verify import COST_TOLERANCE_PER_GAL
from formulas.engine.density.mixing import partial_volumes_gal_per_lb, volume_gal
from formulas.engine.problem import BlendProblem, CostCeiling, Per

#: Rounds in which the row is brought into line with the recipe; two or three do.
_ROUNDS: Final = 8
#: Percentage points; a recipe that moves by less has settled.
_SETTLED_PCT: Final = 1e-6
#: Dollars per gallon below the ceiling at which a recipe is not worth another row.
_LEFT_PER_GAL: Final = 1e-4
#: Relatively; a cost per gallon that falls by less has settled.
_SAME: Final = 1e-9
#: Decimals of dollars, or of percent, in which two recipes are told apart.
_DIGITS: Final = 9

Find = Callable[[BlendProblem], Answer | None]


@dataclass(frozen=True, slots=True)
class LeastCost:
    """The recipe of the least cost per gallon, and that cost at its true volume, dollars."""

    answer: Answer
    per_gal: float


def within_ceiling(
    problem: BlendProblem, find: Find, proved: Proved | None = None
) -> Answer | None:
    """The best recipe within the problem's ceiling, None if no recipe is.

    ``find`` answers a problem whose row is drawn. Where the ceiling does not bind, the answer is
    that of the question without it.
    """
    ceiling = problem.cost_ceiling
    if ceiling is None:
        return find(problem)
    start = find(replace(problem, cost_ceiling=None))
    if start is None or _keeps(ceiling, cost_per_gal(start)):
        return start
    if problem.strongest is None and problem.cheapest_per is Per.GAL:
        return None  # it is the cheapest gallon that is too dear
    unmixed = find(_drawn_with(problem, ceiling, ideal_gal_per_lb(start)))
    begins = (start,) if unmixed is None else (start, unmixed)
    ends = [end for each in begins if (end := _settled(problem, ceiling, each, find)) is not None]
    if ends:
        return min(ends, key=lambda end: _worth(problem, end))
    least = least_cost_per_gal(problem, proved)
    if least is None or not _keeps(ceiling, least.per_gal):
        return None
    return _settled(problem, ceiling, least.answer, find) or least.answer


def least_cost_per_gal(problem: BlendProblem, proved: Proved | None = None) -> LeastCost | None:
    """The least that a gallon costs with all wishes but the ceiling kept, None if they conflict."""
    free = replace(problem, cost_ceiling=None, strongest=None, cheapest_per=Per.GAL)
    answer = cheapest_per(free, proved)
    return None if answer is None else LeastCost(answer, cost_per_gal(answer))


def drawn_at(problem: BlendProblem, pct: Floats) -> BlendProblem:
    """The problem with its ceiling's row drawn at a recipe: percent, in the order of the codes."""
    ceiling = problem.cost_ceiling
    if ceiling is None:
        return problem
    stocks = in_code_order(problem.stocks)
    volumes = partial_volumes_gal_per_lb(stocks, (pct / 100.0).tolist())
    return _drawn_with(problem, ceiling, np.array(volumes))


def _drawn_with(problem: BlendProblem, ceiling: CostCeiling, volumes: Floats) -> BlendProblem:
    drawn = replace(ceiling, gal_per_lb=tuple(volumes.tolist()))
    return replace(problem, cost_ceiling=drawn)


def _worth(problem: BlendProblem, answer: Answer) -> float:
    """What the question minimises, to the digits that tell recipes apart: less is better."""
    table, pct = answer.model.table, answer.pct
    cost = float(stock_table(answer.model.stocks).cost_per_lb @ pct)
    if problem.strongest is not None:
        found = -float(table[:, TABLE_COLUMN[problem.strongest]] @ pct) / 100.0
    elif problem.cheapest_per is Per.GAL:
        found = cost_per_gal(answer)
    elif problem.cheapest_per is Per.LB_N:
        found = cost / max(float(table[:, TABLE_COLUMN["N"]] @ pct), NOISE)
    else:
        found = cost / 100.0
    return round(found, _DIGITS)


def drawn_impossible(problem: BlendProblem, proved: Proved | None = None) -> BlendProblem:
    """The row as it proves that no recipe is within the ceiling, if that is why there is none.

    Drawn at the cheapest gallon. Should a program find a cheaper one with those volumes, which
    its own volume does not bear out, they are taken smaller by as much.
    """
    if problem.cost_ceiling is None:
        return problem
    least = least_cost_per_gal(problem, proved)
    if least is None:
        return problem
    volumes = gal_per_lb_in(least.answer)
    free = replace(problem, cost_ceiling=None, strongest=None)
    found = least_ratio(free, least.answer, volumes, proved).pct
    cost = stock_table(least.answer.model.stocks).cost_per_lb
    apparent = float(cost @ found) / float(volumes @ found)
    if 0 < apparent < least.per_gal:
        volumes = volumes * (apparent / least.per_gal)
    ceiling = replace(problem.cost_ceiling, gal_per_lb=tuple(volumes.tolist()))
    return replace(problem, cost_ceiling=ceiling)


def is_off(problem: BlendProblem, pct: Floats) -> bool:
    """Whether a recipe is further below the ceiling than its row, drawn elsewhere, has it.

    ``pct`` in the problem's order of stocks.
    """
    ceiling = problem.cost_ceiling
    if ceiling is None:
        return False
    cost = float(stock_table(problem.stocks).cost_per_lb @ pct)
    per_gal = cost / volume_gal(problem.stocks, pct.tolist())
    return per_gal < ceiling.largest - _LEFT_PER_GAL


def can_be_kept(
    problem: BlendProblem, model: Model, best: Callable[[Floats], Optimum | None]
) -> bool:
    """Whether some of the recipes that ``best`` chooses from is within the ceiling after all.

    Asked where a row drawn elsewhere says that none is. ``best`` minimises an objective of the
    model's columns, without the ceiling.
    """
    ceiling = problem.cost_ceiling
    if ceiling is None:
        return True
    stocks, cost = model.stocks, stock_table(model.stocks).cost_per_lb
    volumes, last = gal_per_lb(ceiling, stocks), np.inf
    for _ in range(_ROUNDS):
        optimum = best(model.row_of(cost - ceiling.largest * volumes))
        if optimum is None:
            return False
        shares = np.maximum(optimum.x[: len(stocks)], 0.0)
        volumes = np.array(partial_volumes_gal_per_lb(stocks, shares.tolist()))
        per_gal = float(cost @ shares) / float(volumes @ shares)
        if _keeps(ceiling, per_gal):
            return True
        if per_gal >= last * (1.0 - _SAME):
            return False
        last = per_gal
    return False


def _settled(
    problem: BlendProblem, ceiling: CostCeiling, start: Answer, find: Find
) -> Answer | None:
    """The row drawn at the answer before it until the answer stays; the last that keeps it."""
    best, at = None, start
    for _ in range(_ROUNDS):
        found = find(drawn_at(problem, at.pct))
        if found is None:
            break
        if _keeps(ceiling, cost_per_gal(found)):
            best = found
        elif best is not None:
            break
        if float(np.abs(found.pct - at.pct).max()) <= _SETTLED_PCT:
            break
        at = found
    return best


def _keeps(ceiling: CostCeiling, per_gal: float) -> bool:
    return per_gal <= ceiling.largest + COST_TOLERANCE_PER_GAL
