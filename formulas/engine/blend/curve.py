"""Least cost along the slow-release share: what another point of slow nitrogen costs."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import Final

import numpy as np

from formulas.engine.blend.branch_and_bound import ChoiceSearch, SearchTooLarge
from formulas.engine.blend.choices import with_choices
from formulas.engine.blend.highs import Session
from formulas.engine.blend.linear_program import linear_model
from formulas.engine.blend.optimise import NOISE
from formulas.engine.blend.programs import Floats, Optimum
from formulas.engine.blend.slow_share import best_slow_release_pct
from formulas.engine.problem import BlendProblem, SlowReleaseWish
from formulas.engine.validate import validate
from formulas.engine.wishes import WishKind
from formulas.engine.work.effort import bounded

MOST_POINTS: Final = 101
#: The last point stays this far (percent of N) inside the reach, so that it can really be had.
_INSIDE_PCT: Final = 1e-6


@dataclass(frozen=True, slots=True)
class CurvePoint:
    """Least cost of a blend with at least this slowly available share of total nitrogen."""

    slow_release_pct: float
    cost_per_lb: float


@bounded
def slow_release_curve(problem: BlendProblem, points: int = 21) -> tuple[CurvePoint, ...]:
    """Least cost at ``points`` shares, evenly spaced from 0 to the highest reachable share.

    All other wishes are kept; the problem's own slow-release wish gives way to "at least" the
    point's share, so costs never fall along the curve. "Strongest" and a cost ceiling are left
    aside: the curve is about cost, and shows where it crosses a ceiling. Empty if the other wishes
    cannot be met, or can be met without any nitrogen: then there is no share to speak of. Raises
    ``BadProblem``, ``TooLarge``; ``ValueError`` for fewer than two points or too many.
    """
    if not 2 <= points <= MOST_POINTS:
        raise ValueError(f"A curve has 2 to {MOST_POINTS} points.")
    validate(problem)
    open_ended = replace(
        problem, slow_release=SlowReleaseWish(min_pct=0.0), strongest=None, cost_ceiling=None
    )
    sweep = _Sweep(open_ended)
    if not sweep.needs_nitrogen():
        return ()
    highest = best_slow_release_pct(sweep.best, sweep.model, highest=True)
    if highest is None:
        return ()
    found = []
    for share in np.linspace(0.0, max(0.0, highest - _INSIDE_PCT), points):
        sweep.move_to(float(share))
        cheapest = sweep.best(sweep.model.cost)
        if cheapest is None:
            break
        found.append(CurvePoint(float(share), cheapest.objective))
    return tuple(found)


class _Sweep:
    """One solver kept for the whole curve; only its slow-release row moves.

    Branching on broken rules answers most questions. One that needs the general search (a
    number of stocks) gets it, once for all points.
    """

    def __init__(self, problem: BlendProblem) -> None:
        self._problem = problem
        self.model = linear_model(problem)
        self._search = ChoiceSearch(problem, self.model)
        self._limits = self._search.model.limits()
        self._mixed = with_choices(self.model, problem)
        self._general: Session | None = None
        (wish,) = [w for w in self.model.wishes if w.kind is WishKind.SLOW_RELEASE]
        self._row = wish.places[0].index
        self._coefficients = self.model.slow_n

    def needs_nitrogen(self) -> bool:
        """Whether every recipe holds nitrogen; one without has no share to plot."""
        least = self.best(self.model.n_n)
        return least is not None and least.objective > NOISE

    def move_to(self, slow_release_pct: float) -> None:
        """Ask for at least this share from now on."""
        self._coefficients = self.model.slow_n - slow_release_pct / 100.0 * self.model.n_n
        self._search.session.set_row(self._row, self._coefficients)

    def best(self, cost: Floats) -> Optimum | None:
        """The recipe of least ``cost`` (n,)."""
        if self._general is None:
            try:
                return self._search.best(self._problem, self._limits, cost)
            except SearchTooLarge:
                self._general = Session(self._mixed.program(self._mixed.limits()))
        self._general.set_row(self._row, self._mixed.row_of(self._coefficients))
        self._general.set_cost(self._mixed.row_of(cost))
        return self._general.run()
