"""The arrays behind a plan with room: weights and tolerances that keep everything together.

Data: division ``d_i`` (lb) of the scale each stock is weighed on, relative tolerance ``tau``,
guards ``g w + c >= 0``, gallons per pound ``v_i``, cost ``c_i``. Variables in divisions: weight
``k_i``, tolerance ``m_i``, distance from the recipe ``e_i``::

    min  sum c_i d_i k_i                                   or the distance from the recipe
    subject to  sum g_i d_i k_i - sum |g_i| d_i m_i + c >= 0        each guard's worst case
                V_least <= sum v_i d_i (k_i - m_i) <= V_least + 2 sum v_i d_i
                sum v_i d_i (k_i + m_i) <= V_most
                m_i >= 1,  m_i >= tau k_i,  k_i >= 2

In words: the cheapest weights that keep every promise wherever each of them is within its
tolerance. A larger tolerance only hurts, so ``m_i`` settles at ``max(1, tau k_i)`` by itself.
Tolerances are whole divisions, rounded down; with them fixed at those of the weights found, the
program is solved again, first freely and then in whole numbers. Two divisions at least, so that
an empty scale is never on target.

By hand: 32 % N and water to at least 28 % with tau = 0: each division of 32 % less and of water
more costs 4 and 28 percent-divisions, so ``4 k_1 - 28 k_2 >= 4 + 28``.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from fractions import Fraction
from typing import Final

import numpy as np

from formulas.engine.blend.highs import Session
from formulas.engine.blend.programs import Floats, Limits, Optimum, Program, SparseRows
from formulas.engine.plant.guards import Guard
from formulas.engine.result import EngineFailure

#: Divisions a weight has at least.
FEWEST_DIVISIONS: Final = 2
#: Nodes of the search over whole numbers, and how far (relatively) from proven best it may end.
MOST_NODES: Final = 2000
WHOLE_GAP: Final = 1e-5
#: Hundredths in a percent, how far a printed line is moved at most, and nodes to find out.
_PER_PCT: Final = 100.0
_MOST_MOVED: Final = 6.0
_LINE_NODES: Final = 200
#: The row of the cost, free until it is known.
_COST_ROW: Final = 0
#: Simplex steps of one linear program; ours take some tens.
_MOST_STEPS: Final = 10_000
#: Rounds of bringing tolerances into line with the weights found, and what makes one worthwhile.
_TOLERANCE_ROUNDS: Final = 3
_WORTH: Final = 1e-6
#: Divisions in a tolerance beyond which rounding them down is not worth counting.
_MANY_DIVISIONS: Final = 20.0
#: Divisions of each stock by which the least volume may be above what is asked: what whole
#: divisions take, and not a larger load in which they matter less.
_DIVISIONS_BEYOND: Final = 2.0
#: How much cost the weights nearest to the recipe may give back, relatively.
_GIVE: Final = 1e-9
#: What a hair of rounding may add to a quotient of divisions.
_HAIR: Final = 1e-9
#: Distance from the recipe against cost: only between weights that cost the same.
_TIE: Final = 1e-4


@dataclass(frozen=True, slots=True)
class Weighings:
    """One load's stocks on their scales: all arrays have one entry a stock.

    ``most_lb`` is what a stock's scale takes (infinite on the main one). ``aimed`` are guards
    that bound the aimed weights only, give or take a division. ``recipe_lb`` is the recipe in
    pounds; ``may_cost_more`` where it was chosen for something else than its cost.
    ``least_gal`` and ``most_gal`` bound what the charged stocks may fill; ``may_grow`` lets the
    least be far above ``least_gal``.
    """

    division_lb: Floats
    most_lb: Floats
    guards: Sequence[Guard]
    aimed: Sequence[Guard]
    cost_per_lb: Floats
    may_cost_more: bool
    gal_per_lb: Floats
    recipe_lb: Floats
    least_gal: float
    most_gal: float
    may_grow: bool = False


@dataclass(frozen=True, slots=True)
class Settled:
    """Divisions of each weight, not whole yet, and of its tolerance.

    ``by_cost``: the recipe had no room at its cost, so cost decides; else nearness does.
    """

    k: Floats
    m: Floats
    by_cost: bool


@dataclass(frozen=True, slots=True)
class Whole:
    """Whole divisions of each weight and its tolerance; ``gap`` to the best not ruled out."""

    k: Floats
    m: Floats
    gap: float


@dataclass(frozen=True, slots=True)
class PrintedLines:
    """Lines of a label that may be moved by hundredths of a percent, one guard each.

    ``sums`` are rows over those moves with their least value; ``heel_lb`` is what stands in the
    tank beside the weights.
    """

    guards: Sequence[Guard]
    sums: Sequence[tuple[Floats, float]]
    heel_lb: float


def settled(load: Weighings, tau: float, *, is_rough: bool = False) -> Settled | None:
    """The weights with room nearest to the recipe, or the cheapest; None if there are none.

    ``is_rough`` leaves out what whole tolerances, rounded down, still save.
    """
    found = _settled(load, tau, None)
    if found is not None:
        return found if is_rough else _polished(load, tau, found)
    # Rounded down, tolerances need less room: those of the weights that have some at all.
    smallest = _settled(load, 0.0, None) if tau > 0 else None
    if smallest is None:
        return None
    return _settled(load, tau, divisions_of_tolerance(smallest.k, tau))


def _polished(load: Weighings, tau: float, found: Settled) -> Settled:
    """The same with small tolerances rounded down to divisions, where that saves something."""
    for _ in range(_TOLERANCE_ROUNDS):
        better = _settled(load, tau, _small_tolerances(found.k, tau))
        if better is None or not _is_better(load, better, found):
            break
        found = better
    return found


def _small_tolerances(k: Floats, tau: float) -> Floats:
    """Whole tolerances of weights, NaN (free) where they are many divisions.

    A weight is held within the range of its whole tolerance, which is narrow where that is large;
    and there rounding down gives little.
    """
    m = divisions_of_tolerance(k, tau)
    found: Floats = np.where(m > _MANY_DIVISIONS, np.nan, m)
    return found


def _is_better(load: Weighings, one: Settled, other: Settled) -> bool:
    """Whether it is cheaper, or nearer where cost does not decide, by more than noise."""
    if other.by_cost:
        return cost_of(load, one) < cost_of(load, other) - _WORTH
    recipe = load.recipe_lb / load.division_lb
    scale = load.division_lb / float(load.recipe_lb.sum())
    off, before = np.abs(one.k - recipe) @ scale, np.abs(other.k - recipe) @ scale
    return bool(off < before - _WORTH)


def whole(load: Weighings, tau: float, near: Settled, most_nodes: int) -> Whole | None:
    """Whole divisions by what decided ``near``; None if none are found.

    A search that ends at its limit of nodes gives the best by then; one that gives none, weights
    rounded where that is safe; both with their gap.
    """
    n = len(load.division_lb)
    m = divisions_of_tolerance(near.k, tau)
    program = _program(load, tau, _objective(load, near), m=m, is_whole=True)
    try:
        optimum = Session(program).run_within_nodes(most_nodes, WHOLE_GAP)
    except EngineFailure:
        optimum = None
    if optimum is not None:
        k = np.round(optimum.x[:n])
        return Whole(k, divisions_of_tolerance(k, tau), optimum.gap)
    return _rounded(load, tau)


def best_lines(load: Weighings, tau: float, near: Settled, lines: PrintedLines) -> Floats | None:
    """Hundredths by which each printed line had best be moved, shape (lines,); None if unknown.

    The mass is taken as that of ``near``, so what is found is to be kept exactly afterwards.
    """
    n, count = len(load.division_lb), len(lines.guards)
    base = _program(load, tau, _objective(load, near), m=_small_tolerances(near.k, tau))
    mass = float(load.recipe_lb.sum())
    hundredth = (float(near.k @ load.division_lb) + lines.heel_lb) / mass / _PER_PCT
    none, rows, moves = np.zeros(n), _Rows(), np.eye(count)
    for guard, move in zip(lines.guards, moves, strict=True):
        over = guard.row * load.division_lb / mass
        least = -guard.constant / mass
        rows.add(over, -np.abs(over), none, -hundredth * move, least=least)
    for row, least in lines.sums:
        rows.add(none, none, none, row, least=least)
    widest = np.full(count, _MOST_MOVED)
    session = Session(
        Program(
            np.append(base.cost, np.zeros(count)),
            np.vstack([np.pad(_dense(base), ((0, 0), (0, count))), np.array(rows.rows)]),
            Limits(
                np.append(base.limits.row_lower, rows.low),
                np.append(base.limits.row_upper, rows.high),
                np.append(base.limits.col_lower, -widest),
                np.append(base.limits.col_upper, widest),
            ),
            np.arange(3 * n + count) >= 3 * n,
        )
    )
    try:
        optimum = session.run_within_nodes(_LINE_NODES, WHOLE_GAP)
    except EngineFailure:
        return None
    return None if optimum is None else np.round(optimum.x[3 * n :])


def cost_of(load: Weighings, found: Settled) -> float:
    """Cost of weights as a multiple of the recipe's."""
    return float(_dollars(load)[: len(found.k)] @ found.k)


def divisions_of_tolerance(k: Floats, tau: float) -> Floats:
    """``max(1, tau k rounded down)``."""
    found: Floats = np.maximum(1.0, np.floor(tau * k + _HAIR))
    return found


def pounds(divisions: Floats, division_lb: Floats) -> Floats:
    """Whole divisions in pounds without binary crumbs: 3 of 0.1 lb are 0.3 lb."""
    return np.array(
        [
            float(Fraction(str(float(d))) * round(k))
            for k, d in zip(divisions, division_lb, strict=True)
        ]
    )


def _settled(load: Weighings, tau: float, m: Floats | None) -> Settled | None:
    """The cheapest weights; where the recipe's cost is enough, those nearest to the recipe."""
    n = len(load.division_lb)
    program = _program(load, tau, _dollars(load) + _TIE * _distance(load), m=m)
    session = Session(program)
    found = _run(session)
    if found is None:
        return None
    by_cost = float(_dollars(load) @ found.x) > 1.0 and not load.may_cost_more
    if not by_cost:
        limits = program.limits
        if not load.may_cost_more:
            limits.row_upper[_COST_ROW] = 1.0 + _GIVE
        session.set_limits(limits)
        session.set_cost(_distance(load))
        found = _run(session) or found
    return Settled(found.x[:n], found.x[n : 2 * n], by_cost=by_cost)


def _rounded(load: Weighings, tau: float) -> Whole | None:
    """Weights with half a division more of room, rounded: nothing can break by that."""
    n = len(load.division_lb)
    optimum = _run(Session(_program(load, tau, _dollars(load), is_safe=True)))
    if optimum is None:
        return None
    k = np.round(optimum.x[:n])
    bound = _run(Session(_program(load, tau, _dollars(load))))
    least = optimum.objective if bound is None else bound.objective
    gap = max(0.0, 1.0 - least / max(_HAIR, float(_dollars(load)[:n] @ k)))
    return Whole(k, divisions_of_tolerance(k, tau), gap)


def _run(session: Session) -> Optimum | None:
    """The optimum; a program that the solver cannot settle in its steps counts as having none."""
    try:
        return session.run_within(_MOST_STEPS)
    except EngineFailure:
        return None


def _objective(load: Weighings, near: Settled) -> Floats:
    """What decided ``near``: cost with nearness between equals, or nearness."""
    return _dollars(load) + _TIE * _distance(load) if near.by_cost else _distance(load)


def _dense(program: Program) -> Floats:
    assert not isinstance(program.A, SparseRows)  # noqa: S101 - ours are small
    return program.A


def _dollars(load: Weighings) -> Floats:
    """Objective: cost as a multiple of the recipe's."""
    n = len(load.division_lb)
    scale = max(_HAIR, float(load.cost_per_lb @ load.recipe_lb))
    return np.concatenate([load.cost_per_lb * load.division_lb / scale, np.zeros(2 * n)])


def _distance(load: Weighings) -> Floats:
    """Objective: pounds off the recipe as a share of its mass."""
    n = len(load.division_lb)
    return np.concatenate([np.zeros(2 * n), np.full(n, 1.0 / float(load.recipe_lb.sum()))])


class _Rows:
    """Rows over weights, tolerances and distances, with their limits."""

    def __init__(self) -> None:
        self.rows: list[Floats] = []
        self.low: list[float] = []
        self.high: list[float] = []

    def add(
        self,
        *blocks: Floats,
        least: float = -np.inf,
        most: float = np.inf,
    ) -> None:
        self.rows.append(np.concatenate(blocks))
        self.low.append(least)
        self.high.append(most)


def _program(
    load: Weighings,
    tau: float,
    cost: Floats,
    *,
    m: Floats | None = None,
    is_safe: bool = False,
    is_whole: bool = False,
) -> Program:
    """The program with free tolerances or those of ``m`` (NaN: free); contents in percent.

    ``is_safe`` keeps half a division more of everything.
    """
    d, n = load.division_lb, len(load.division_lb)
    half = 0.5 if is_safe else 0.0
    free = np.isnan(m) if m is not None else np.ones(n, dtype=bool)
    fixed = np.where(free, 1.0, m if m is not None else 1.0)
    mass, gal = float(load.recipe_lb.sum()), max(_HAIR, abs(load.least_gal))
    none, rows = np.zeros(n), _Rows()
    rows.add(_dollars(load)[:n], none, none)  # _COST_ROW
    for guard in load.guards:
        over = guard.row * d / mass
        spread = np.abs(over)
        rows.add(over, -spread, none, least=half * float(spread.sum()) - guard.constant / mass)
    for guard in load.aimed:
        over = guard.row * d / mass
        rows.add(over, none, none, least=-float(np.abs(over).sum()) - guard.constant / mass)
    v = load.gal_per_lb * d / gal
    spare = half * float(v.sum())
    least_gal = load.least_gal / gal
    beyond = np.inf if load.may_grow else _DIVISIONS_BEYOND * float(v.sum())
    rows.add(v, -v, none, least=least_gal + spare, most=least_gal + beyond - spare)
    rows.add(v, v, none, most=load.most_gal / gal - spare)
    for i, one in enumerate(np.eye(n)):
        target, most = float(load.recipe_lb[i]), float(load.most_lb[i])
        rows.add(d[i] * one, none, one, least=target)
        rows.add(-d[i] * one, none, one, least=-target)
        if free[i]:
            rows.add(-tau * one, one, none, least=tau * half)
        if np.isfinite(most):
            rows.add(one, one, none, most=most / d[i] - half)
    most_k = np.full(n, np.inf)
    if tau > 0:
        # Heavier weights would have a larger tolerance than the one counted with.
        most_k = np.where(free, np.inf, np.ceil((fixed + 1.0) / tau - _HAIR) - 1.0)
    limits = Limits(
        np.array(rows.low),
        np.array(rows.high),
        np.concatenate([np.full(n, FEWEST_DIVISIONS + half), fixed, none]),
        np.concatenate([most_k, np.where(free, np.inf, fixed), np.full(n, np.inf)]),
    )
    return Program(cost, np.array(rows.rows), limits, np.arange(3 * n) < (n if is_whole else 0))
