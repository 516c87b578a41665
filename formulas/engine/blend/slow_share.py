"""The highest or lowest slow-release share of total nitrogen over a set of recipes.

The share is a ratio, ``slow x / N x``. Dinkelbach's method: for the share s reached so far, the
linear program ``max (slow - s N) x`` either improves it or proves it (W. Dinkelbach, On
nonlinear fractional programming, Management Science 13(7), 1967).
"""

from __future__ import annotations

from collections.abc import Callable
from typing import Final

from formulas.engine.blend.linear_program import Model
from formulas.engine.blend.optimise import NOISE
from formulas.engine.blend.programs import Floats, Optimum

_ROUNDS: Final = 50
_SETTLED: Final = 1e-12


def best_slow_release_pct(
    best: Callable[[Floats], Optimum | None], model: Model, *, highest: bool
) -> float | None:
    """Percent of total N; None if nothing with nitrogen is feasible.

    ``best`` minimises an objective over the recipes in question.
    """
    slow, total = model.slow_n, model.n_n
    n = len(model.stocks)
    optimum = best(-model.row_of(total))
    if optimum is None or float(total @ optimum.x[:n]) <= NOISE:
        return None
    share = float(slow @ optimum.x[:n]) / float(total @ optimum.x[:n])
    for _ in range(_ROUNDS):
        gain = model.row_of(slow - share * total)
        optimum = best(-gain if highest else gain)
        if optimum is None or float(total @ optimum.x[:n]) <= NOISE:
            break
        better = float(slow @ optimum.x[:n]) / float(total @ optimum.x[:n])
        if abs(better - share) <= _SETTLED or (better > share) is not highest:
            break
        share = better
    return 100.0 * share
