"""Check a recipe against the question itself, in double precision, before anybody sees it.

It uses the question's own words (contents, limits, rules), not the solver's rows, so a mistake
in the arrays or a lax solver tolerance cannot pass.
"""

from __future__ import annotations

import math
from typing import Final

import numpy as np

from formulas.engine.blend.choices import choices_are_kept
from formulas.engine.blend.programs import Floats
from formulas.engine.blend.stock_table import (
    N_COLUMN,
    SLOW_COLUMNS,
    TABLE_COLUMN,
    stock_table,
)
from formulas.engine.density.mixing import volume_gal
from formulas.engine.problem import BlendProblem, CostCeiling
from formulas.engine.result import EngineFailure

#: Percentage points by which a limit may be missed; the smallest guarantee is about 0.0005 %.
TOLERANCE_PCT: Final = 1e-7
#: Dollars per gallon by which a ceiling may be missed, far below the last place printed.
COST_TOLERANCE_PER_GAL: Final = 1e-6


def verify(problem: BlendProblem, table: Floats, pct: Floats) -> None:
    """Raise ``EngineFailure`` naming what fails.

    ``table`` is ``content_table(problem.stocks)``, ``pct`` has one share per problem stock.
    """
    # A sum that is not a number has a share that is not; the least of them tells the rest.
    total = float(pct.sum())
    if not (float(pct.min()) >= 0.0 and math.isfinite(total)):
        raise EngineFailure("A share is negative or not a number.")
    if abs(total - 100.0) > TOLERANCE_PCT:
        raise EngineFailure("The shares do not add up to 100 %.")
    content_of = ((pct / 100.0) @ table).tolist()
    for wish in problem.wishes:
        content = content_of[TABLE_COLUMN[wish.nutrient]]
        _check(wish.nutrient, content, wish.min_pct, wish.max_pct)
    if problem.slow_release is not None:
        # Compared as contents: the share itself is meaningless noise in a blend without N.
        slow, n = sum([content_of[column] for column in SLOW_COLUMNS]), content_of[N_COLUMN]
        least, most = problem.slow_release.min_pct, problem.slow_release.max_pct
        low = None if least is None else least / 100.0 * n
        high = None if most is None else most / 100.0 * n
        _check("slow release", slow, low, high)
    if problem.cost_ceiling is not None:
        _check_cost(problem, problem.cost_ceiling, pct)
    _check_stocks(problem, pct)
    if not choices_are_kept(problem, problem.stocks, pct):
        raise EngineFailure("The recipe breaks a rule, a smallest charge or the number of stocks.")


def _check_cost(problem: BlendProblem, ceiling: CostCeiling, pct: Floats) -> None:
    """At the volume the blend really has, not at the one a linear program took it to have."""
    volume = volume_gal(problem.stocks, pct.tolist())
    cost = float(stock_table(problem.stocks).cost_per_lb @ pct) / volume
    if cost > ceiling.largest + COST_TOLERANCE_PER_GAL:
        raise EngineFailure(f"A gallon costs {cost:.10g}, above {ceiling.max_per_gal:.10g}.")


def _check_stocks(problem: BlendProblem, pct: Floats) -> None:
    """The stocks' own limits, those left out, the question's limits on stocks."""
    arrays = stock_table(problem.stocks)
    least, most = arrays.min_pct, arrays.max_pct
    if problem.exclude:
        left_out = [arrays.position[code] for code in problem.exclude]
        least, most = least.copy(), most.copy()
        least[left_out], most[left_out] = 0.0, 0.0
    off = float(np.maximum(least - pct, pct - most).max())
    if off > 0.0:
        for stock, share, low, high in zip(
            problem.stocks, pct.tolist(), least.tolist(), most.tolist(), strict=True
        ):
            _check(stock.code, share, low, high)
    for limit in problem.stock_limits:
        share = float(pct[arrays.position[limit.code]])
        _check(limit.code, share, limit.min_pct, limit.max_pct)


def _check(name: str, value: float, low: float | None, high: float | None) -> None:
    if low is not None and value < low - TOLERANCE_PCT:
        raise EngineFailure(f"{name} is {value:.10g}, below {low:.10g}.")
    if high is not None and value > high + TOLERANCE_PCT:
        raise EngineFailure(f"{name} is {value:.10g}, above {high:.10g}.")
