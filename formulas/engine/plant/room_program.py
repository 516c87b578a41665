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

from formulas.engine.blend.highs import Floats, Limits, Optimum, Program, Session
from formulas.engine.plant.guards import Guard
from formulas.engine.result import EngineFailure

#: Divisions a weight has at least.
FEWEST_DIVISIONS: Final = 2
#: Nodes of the search over whole numbers, and how far (relatively) from proven best it may end.
MOST_NODES: Final = 2000
WHOLE_GAP: Final = 1e-5
#: The row of the cost, free until it is known.
_COST_ROW: Final = 0
#: Simplex steps of one linear program; ours take some tens.
_MOST_STEPS: Final = 10_000
#: Rounds of bringing tolerances into line with the weights found.
_TOLERANCE_ROUNDS: Final = 3
#: Divisions within which a weight is at its upper limit: there it counts as the next tolerance.
_AT_LIMIT: Final = 1.0 + 1e-6
#: Divisions of each stock by which the least volume may be above what is asked: what whole
#: divisions take, and not a larger load in which they matter less.
_DIVISIONS_BEYOND: Final = 2.0
#: How much cost the weights nearest to the recipe may give back, relatively.
_GIVE: Final = 1e-9
#: What a hair of rounding may add to a quotient of divisions.
_HAIR: Final = 1e-9
#: Distance from the recipe against cost: only between weights that cost the same.
_TIE: Final = 1e-3


@dataclass(frozen=True, slots=True)
class Weighings:
    """One load's stocks on their scales: all arrays have one entry a stock.

    ``most_lb`` is what a stock's scale takes (infinite on the main one). ``aimed`` are guards
    that bound the aimed weights only, give or take a division. ``recipe_lb`` is the recipe in
    pounds; ``may_cost_more`` where it was chosen for something else than its cost.
    ``least_gal`` and ``most_gal`` bound what the charged stocks may fill.
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


def settled(load: Weighings, tau: float, near: Settled | None = None) -> Settled | None:
    """The weights with room nearest to the recipe, or the cheapest; None if there are none.

    ``near`` are weights that are likely to be close, to begin from their tolerances.
    """
    begin = load.recipe_lb / load.division_lb if near is None else near.k
    m = divisions_of_tolerance(begin, tau)
    found = _settled(load, tau, m)
    if found is None:
        # Other tolerances may have room: all at once, or those of the smallest boxes' weights.
        begun = _settled(load, tau, None) or _settled(load, 0.0, None)
        if begun is None:
            return None
        m = divisions_of_tolerance(begun.k, tau)
        found = _settled(load, tau, m)
        if found is None:
            return begun if bool((begun.m >= tau * begun.k - _HAIR).all()) else None
    for _ in range(_TOLERANCE_ROUNDS):
        # A weight held back by the tolerance it was counted with may want the next one.
        wanted = divisions_of_tolerance(found.k + _AT_LIMIT, tau)
        if bool((wanted == m).all()):
            break
        m, before = wanted, found
        found = _settled(load, tau, m) or before
        if found is before:
            break
    return found


def whole(load: Weighings, tau: float, near: Settled, most_nodes: int) -> Whole | None:
    """Whole divisions by what decided ``near``; None if none are found.

    A search that ends at its limit of nodes gives the best by then, or ``near`` rounded where
    that is safe, with the gap.
    """
    n = len(load.division_lb)
    m = divisions_of_tolerance(near.k, tau)
    cost = _dollars(load) + _TIE * _distance(load) if near.by_cost else _distance(load)
    session = Session(_program(load, tau, cost, m=m, is_whole=True))
    try:
        optimum = session.run_within_nodes(most_nodes, WHOLE_GAP)
    except EngineFailure:
        optimum = None
    if optimum is not None:
        k = np.round(optimum.x[:n])
        return Whole(k, divisions_of_tolerance(k, tau), optimum.gap)
    if session.is_proven_infeasible:
        return None
    return _rounded(load, tau)


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
    """The cheapest weights; then, at their cost or the recipe's, those nearest to the recipe."""
    n = len(load.division_lb)
    program = _program(load, tau, _dollars(load), m=m)
    session = Session(program)
    cheapest = _run(session)
    if cheapest is None:
        return None
    limits = program.limits
    if not load.may_cost_more:
        limits.row_upper[_COST_ROW] = max(cheapest.objective, 1.0) + _GIVE
    session.set_limits(limits)
    session.set_cost(_distance(load))
    nearest = _run(session) or cheapest
    by_cost = cheapest.objective > 1.0 and not load.may_cost_more
    return Settled(nearest.x[:n], nearest.x[n : 2 * n], by_cost=by_cost)


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
    """The program with free tolerances, or with those of ``m``; contents in percent of the recipe.

    ``is_safe`` keeps half a division more of everything.
    """
    d, n = load.division_lb, len(load.division_lb)
    half = 0.5 if is_safe else 0.0
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
    least_gal, beyond = load.least_gal / gal, _DIVISIONS_BEYOND * float(v.sum())
    rows.add(v, -v, none, least=least_gal + spare, most=least_gal + beyond - spare)
    rows.add(v, v, none, most=load.most_gal / gal - spare)
    for i, one in enumerate(np.eye(n)):
        target, most = float(load.recipe_lb[i]), float(load.most_lb[i])
        rows.add(d[i] * one, none, one, least=target)
        rows.add(-d[i] * one, none, one, least=-target)
        if m is None:
            rows.add(-tau * one, one, none, least=tau * half)
        if np.isfinite(most):
            rows.add(one, one, none, most=most / d[i] - half)
    free = np.full(n, np.inf)
    most_k = free
    if m is not None and tau > 0:
        # Heavier weights would have a larger tolerance than the one counted with.
        most_k = np.ceil((m + 1.0) / tau - _HAIR) - 1.0
    limits = Limits(
        np.array(rows.low),
        np.array(rows.high),
        np.concatenate([np.full(n, FEWEST_DIVISIONS + half), np.ones(n) if m is None else m, none]),
        np.concatenate([most_k, free if m is None else m, free]),
    )
    return Program(cost, np.array(rows.rows), limits, np.arange(3 * n) < (n if is_whole else 0))
