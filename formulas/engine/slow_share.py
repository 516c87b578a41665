"""The highest or lowest slow-release share of total nitrogen within the session's limits.

The share is a ratio, ``slow x / N x``. Dinkelbach's method: for the share s reached so far, the
linear program ``max (slow - s N) x`` either improves it or proves it (W. Dinkelbach, On
nonlinear fractional programming, Management Science 13(7), 1967).
"""

from __future__ import annotations

from typing import Final

from formulas.engine.highs import Session
from formulas.engine.linear_program import Model
from formulas.engine.optimise import NOISE

_ROUNDS: Final = 50
_SETTLED: Final = 1e-12


def best_slow_release_pct(session: Session, model: Model, *, highest: bool) -> float | None:
    """Percent of total N; None if nothing with nitrogen is feasible. Changes the objective."""
    slow, total = model.row_of(model.slow_n), model.row_of(model.n_n)
    session.set_cost(-total)
    optimum = session.run()
    if optimum is None or float(total @ optimum.x) <= NOISE:
        return None
    share = float(slow @ optimum.x) / float(total @ optimum.x)
    for _ in range(_ROUNDS):
        gain = slow - share * total
        session.set_cost(-gain if highest else gain)
        optimum = session.run()
        if optimum is None or float(total @ optimum.x) <= NOISE:
            break
        better = float(slow @ optimum.x) / float(total @ optimum.x)
        if abs(better - share) <= _SETTLED or (better > share) is not highest:
            break
        share = better
    return 100.0 * share
