"""The arrays behind a plan with room: weights and tolerances that keep everything together.

Data: division ``d_i`` (lb) of the scale each stock is weighed on, relative tolerance ``tau``,
guards ``g w + c >= 0``, gallons per pound ``v_i``, cost ``c_i``. Variables in divisions: weight
``k_i``, tolerance ``m_i``, distance from the recipe ``e_i``::

    min  sum c_i d_i k_i                                   or the distance from the recipe
    subject to  sum g_i d_i k_i - sum |g_i| d_i m_i + c >= 0        each guard's worst case
                sum v_i d_i (k_i - m_i) >= V_least
                sum v_i d_i (k_i + m_i) <= V_most
                m_i >= 1,  m_i >= tau k_i,  k_i >= 2

A larger tolerance only hurts, so ``m_i`` settles at ``max(1, tau k_i)`` by itself: one linear
program, nothing to iterate. Two divisions at least, so that an empty scale is never on target.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from fractions import Fraction
from typing import Final

import numpy as np

from formulas.engine.blend.highs import Floats, Limits, Optimum, Program, Session
from formulas.engine.plant.guards import Guard

#: Divisions a weight has at least.
FEWEST_DIVISIONS: Final = 2
#: Nodes of the search over whole numbers; more have not changed a weight worth weighing.
MOST_NODES: Final = 2000
#: What a hair of rounding may add to a quotient of divisions.
_HAIR: Final = 1e-9


@dataclass(frozen=True, slots=True)
class Weighings:
    """One load's stocks on their scales: all arrays have one entry a stock.

    ``most_lb`` is what a stock's scale takes (infinite on the main one). ``fixed`` are guards
    that bound the aimed weights only. ``aim_lb`` is the recipe in pounds. ``least_gal`` and
    ``most_gal`` bound what the charged stocks may fill.
    """

    division_lb: Floats
    most_lb: Floats
    guards: Sequence[Guard]
    fixed: Sequence[Guard]
    cost_per_lb: Floats
    gal_per_lb: Floats
    aim_lb: Floats
    least_gal: float
    most_gal: float


@dataclass(frozen=True, slots=True)
class Found:
    """Weights in pounds, shape (n,), and how far from proven best the search ended."""

    weight_lb: Floats
    gap: float = 0.0


def cheapest(load: Weighings, tau: float, *, safe: bool = False) -> Optimum | None:
    """Least cost (``objective``, dollars) of weights with room, None if there are none.

    ``safe`` keeps half a division more of each weight, so that rounding cannot break anything.
    """
    return Session(_program(load, tau, _dollars(load), safe=safe)).run()


def nearest(load: Weighings, tau: float, most_cost: float, *, safe: bool = False) -> Found | None:
    """Weights with room nearest to the recipe that cost at most so much."""
    program = _program(load, tau, _distance(load), most_cost=most_cost, safe=safe)
    optimum = Session(program).run()
    if optimum is None:
        return None
    return Found(optimum.x[: len(load.division_lb)] * load.division_lb)


def whole(
    load: Weighings, tau: float, near: Floats, *, by_cost: bool, most_nodes: int = MOST_NODES
) -> Found | None:
    """Whole divisions with room by cost or by distance from the recipe; None if none is found.

    Tolerances are those of ``near`` (lb). Where the search ends early the weights it has come
    with their gap, or else those of ``near`` rounded if they will do.
    """
    d, n = load.division_lb, len(load.division_lb)
    m = divisions_of_tolerance(near / d, tau)
    distance = _distance(load)
    cost = _dollars(load) + 1e-3 * distance if by_cost else distance
    program = _program(load, tau, cost, tolerance=m)
    optimum = Session(program).run_within_nodes(most_nodes)
    if optimum is None:
        return None
    return Found(np.round(optimum.x[:n]) * d, gap=optimum.gap)


def divisions_of_tolerance(k: Floats, tau: float) -> Floats:
    """``max(1, tau k rounded down)``."""
    found: Floats = np.maximum(1.0, np.floor(tau * k + _HAIR))
    return found


def pounds(divisions: float, division_lb: float) -> float:
    """Whole divisions in pounds without binary crumbs: 3 of 0.1 lb are 0.3 lb."""
    return float(Fraction(str(division_lb)) * round(divisions))


def _dollars(load: Weighings) -> Floats:
    n = len(load.division_lb)
    scale = max(1e-9, float(load.cost_per_lb @ load.aim_lb))
    return np.concatenate([load.cost_per_lb * load.division_lb / scale, np.zeros(2 * n)])


def _distance(load: Weighings) -> Floats:
    n = len(load.division_lb)
    return np.concatenate([np.zeros(2 * n), np.full(n, 1.0 / float(load.aim_lb.sum()))])


def _program(
    load: Weighings,
    tau: float,
    cost: Floats,
    *,
    most_cost: float | None = None,
    tolerance: Floats | None = None,
    safe: bool = False,
) -> Program:
    """Columns: divisions of weight, divisions of tolerance, pounds off the recipe."""
    d, n = load.division_lb, len(load.division_lb)
    half = 0.5 if safe else 0.0
    mass, gal = float(load.aim_lb.sum()), max(1e-9, abs(load.least_gal))
    rows: list[Floats] = []
    low: list[float] = []
    high: list[float] = []

    def add(of_k: Floats, of_m: Floats, of_e: Floats, least: float, most: float) -> None:
        rows.append(np.concatenate([of_k, of_m, of_e]))
        low.append(least)
        high.append(most)

    none = np.zeros(n)
    for guard in load.guards:
        of_k, of_m = guard.row * d / mass, -np.abs(guard.row) * d / mass
        add(of_k, of_m, none, -guard.constant / mass + half * float(-of_m.sum()), np.inf)
    for guard in load.fixed:
        add(guard.row * d / mass, none, none, -guard.constant / mass, np.inf)
    v = load.gal_per_lb * d / gal
    add(v, -v, none, load.least_gal / gal + half * float(v.sum()), np.inf)
    add(v, v, none, -np.inf, load.most_gal / gal - half * float(v.sum()))
    for i in range(n):
        one = np.eye(n)[i]
        if tolerance is None:
            add(-tau * one, one, none, half * tau, np.inf)
        add(d[i] * one, none, one, float(load.aim_lb[i]), np.inf)
        add(-d[i] * one, none, one, -float(load.aim_lb[i]), np.inf)
        if np.isfinite(load.most_lb[i]):
            add(d[i] * one, d[i] * one, none, -np.inf, float(load.most_lb[i]) - half * d[i])
    if most_cost is not None:
        add(_dollars(load)[:n], none, none, -np.inf, most_cost)
    most_k = np.full(n, np.inf)
    if tolerance is not None and tau > 0:
        # Heavier weights would have a larger tolerance than the one counted with.
        most_k = np.ceil((tolerance + 1.0) / tau - _HAIR) - 1.0
    return Program(
        cost=cost,
        A=np.array(rows),
        limits=Limits(
            np.array(low),
            np.array(high),
            np.concatenate(
                [
                    np.full(n, FEWEST_DIVISIONS + half),
                    np.ones(n) if tolerance is None else tolerance,
                    none,
                ]
            ),
            np.concatenate(
                [most_k, np.full(n, np.inf) if tolerance is None else tolerance, np.full(n, np.inf)]
            ),
        ),
        integer=np.arange(3 * n) < (0 if tolerance is None else n),
    )
