"""Least cost along the slow-release share: what another point of slow nitrogen costs."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import Final

import numpy as np

from formulas.engine.choices import choices_are_kept, with_choices
from formulas.engine.highs import Floats, Session
from formulas.engine.linear_program import Model, WishKind, linear_model
from formulas.engine.problem import BlendProblem, SlowReleaseWish
from formulas.engine.slow_share import best_slow_release_pct
from formulas.engine.validate import validate

#: The last point stays this far (percent of N) inside the reach, so that it can really be had.
_INSIDE_PCT: Final = 1e-6
#: Programs whose least costs differ by less than this are taken as equal, $/lb.
_SAME_COST: Final = 1e-9


@dataclass(frozen=True, slots=True)
class CurvePoint:
    """Least cost of a blend with at least this slowly available share of total nitrogen."""

    slow_release_pct: float
    cost_per_lb: float


def slow_release_curve(problem: BlendProblem, points: int = 21) -> tuple[CurvePoint, ...]:
    """Least cost at ``points`` shares, evenly spaced from 0 to the highest reachable share.

    All other wishes are kept; the problem's own slow-release wish gives way to "at least" the
    point's share, so costs never fall along the curve. "Strongest" is left aside: the curve is
    about cost. Empty if the other wishes cannot be met or give no nitrogen at all. Raises
    ``BadProblem``; ``ValueError`` for fewer than two points.
    """
    if points < 2:
        raise ValueError("A curve needs at least two points.")
    validate(problem)
    open_ended = replace(problem, slow_release=SlowReleaseWish(min_pct=0.0), strongest=None)
    linear = linear_model(open_ended)
    mixed = with_choices(linear, open_ended)
    highest = _highest_pct(mixed)
    if highest is None:
        return ()
    # Two solvers, each kept for the whole curve: only the slow-release row changes.
    plain = _Sweep(linear)
    choosing = _Sweep(mixed) if mixed.switch else None
    found = []
    for share in np.linspace(0.0, max(0.0, highest - _INSIDE_PCT), points):
        answer = plain.least_cost(float(share))
        if answer is None:
            break
        cost, shares = answer
        if choosing is not None and not choices_are_kept(
            open_ended, linear.stocks, 100.0 * np.where(shares < _SAME_COST, 0.0, shares)
        ):
            chosen = choosing.least_cost(float(share))
            if chosen is None:
                break
            cost = chosen[0]
        found.append(CurvePoint(float(share), cost))
    return tuple(found)


class _Sweep:
    """One solver whose slow-release row is moved from point to point."""

    def __init__(self, model: Model) -> None:
        self._model = model
        self._session = Session(model.program(model.limits()))
        (wish,) = [w for w in model.wishes if w.kind is WishKind.SLOW_RELEASE]
        self._row = wish.places[0].index

    def least_cost(self, slow_release_pct: float) -> tuple[float, Floats] | None:
        model = self._model
        row = model.slow_n - slow_release_pct / 100.0 * model.n_n
        self._session.set_row(self._row, model.row_of(row))
        optimum = self._session.run()
        if optimum is None:
            return None
        return optimum.objective, optimum.x[: len(model.stocks)]


def _highest_pct(model: Model) -> float | None:
    session = Session(model.program(model.limits()))
    return best_slow_release_pct(session, model, highest=True)
