"""Whole steps of a scale nearest to weights that are not whole, within rows over the steps.

Data: step ``q_i`` (lb), target ``t_i = q_i (f_i + r_i)`` with ``f_i`` whole, at least 1. The
distance ``|q k - t|`` of a *whole* number k is a straight line between neighbours, so its corners
lie not at the target but at ``f`` and ``f + 1``. With ``k = f + z + p - n``::

    min  sum q_i ( |r_i| + (|1 - r_i| - |r_i|) z_i + p_i + n_i )
    subject to  the rows over k,   0 <= z_i <= 1,   p_i >= 0,   0 <= n_i <= f_i - 1

In words: the step next to a target costs its distance, each step beyond it one more. Where steps
may be parts this costs at least what whole ones do, so little is left to branch on: a number of
steps that came out in parts is at most the whole number below or at least the one above.

Most of what is found is found by looking: whole steps around the target, and around each
program's answer, all of them at once. The programs then only have to prove that it is the nearest.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import lru_cache
from itertools import product
from typing import Final

import numpy as np

from formulas.engine.blend.highs import Session
from formulas.engine.blend.programs import (
    FEASIBILITY_TOLERANCE,
    Floats,
    Limits,
    Mask,
    Optimum,
    Program,
)
from formulas.engine.result import EngineFailure

#: Programs of one search; where they do not do, a general search is asked for.
MOST_PROGRAMS: Final = 100
#: Combinations of steps looked at together.
_MOST_LOOKED_AT: Final = 7_000
#: Ranges of steps around the one below a target, the widest that is not too many first.
_AROUND: Final = ((-1, 2), (-1, 1), (0, 1))
#: Pounds by which a distance has to be smaller to be smaller.
_EQUAL_LB: Final = 1e-9
#: Steps from its target beyond which a stock is not looked for.
_FARTHEST: Final = 1e6
#: Parts of a step below this are the solver's noise.
_NOISE: Final = 1e-7


class SearchTooLarge(Exception):
    """These steps need the general search; none is nearer than it needs to be.

    ``within_lb`` is the distance of the nearest steps that were found, infinite without any.
    """

    def __init__(self, within_lb: float) -> None:
        self.within_lb = within_lb
        super().__init__("These steps need the general search.")


@dataclass(frozen=True, slots=True)
class Steps:
    """Steps and targets in lb, and rows over numbers of steps, shape (m, n), with their limits."""

    step_lb: Floats
    target_lb: Floats
    rows: Floats
    low: Floats
    high: Floats


@dataclass(frozen=True, slots=True)
class _Node:
    """Least and most steps of each stock, and the distance (lb) it cannot go below."""

    least: Floats
    most: Floats
    bound: float


def nearest_steps(steps: Steps) -> Floats | None:
    """The whole numbers of steps, none 0, nearest to the targets; None if there are none.

    Raises ``SearchTooLarge``, and ``TooLarge`` as any program does.
    """
    search = _Search(steps)
    n = len(steps.step_lb)
    for low, high in _AROUND:
        if (high - low + 1) ** n <= _MOST_LOOKED_AT:
            search.look_at(np.maximum(search.below + _combinations(n, low, high), 1.0))
            break
    waiting = [search.whole]
    for _ in range(MOST_PROGRAMS):
        if not waiting:
            return search.best
        waiting += search.branches(waiting.pop())
    raise SearchTooLarge(search.best_lb)


class _Search:
    """One program whose columns are narrowed, and the nearest steps found so far."""

    def __init__(self, steps: Steps) -> None:
        self._steps = steps
        n, parts = len(steps.step_lb), steps.target_lb / steps.step_lb
        self.below = np.maximum(np.floor(parts + _NOISE), 1.0)
        self._columns = np.arange(3 * n, dtype=np.int32)
        beyond = parts - self.below
        next_one = np.abs(1.0 - beyond) - np.abs(beyond)
        #: What the steps below the targets cost themselves.
        self._base_lb = float(np.abs(beyond) @ steps.step_lb)
        standing = steps.rows @ self.below
        self._session = Session(
            Program(
                cost=np.concatenate([next_one * steps.step_lb, steps.step_lb, steps.step_lb]),
                A=np.hstack([steps.rows, steps.rows, -steps.rows]),
                limits=Limits(
                    steps.low - standing,
                    steps.high - standing,
                    np.zeros(3 * n),
                    np.concatenate([np.ones(n), np.full(n, np.inf), self.below - 1.0]),
                ),
                integer=np.zeros(3 * n, dtype=bool),
            )
        )
        #: Each number of steps as it is or one more, and what that adds to the rows.
        self._next = _combinations(n, 0, 1 if 2**n <= _MOST_LOOKED_AT else 0)
        self._next_held = self._next @ steps.rows.T
        self.best: Floats | None = None
        self.best_lb = np.inf

    @property
    def whole(self) -> _Node:
        """All steps: none farther from its target than all of the best are together."""
        near = np.minimum(self.best_lb, _FARTHEST * self._steps.step_lb) / self._steps.step_lb
        parts = self._steps.target_lb / self._steps.step_lb
        least = np.maximum(np.ceil(parts - near - _NOISE), 1.0)
        return _Node(least, np.maximum(np.floor(parts + near + _NOISE), least), 0.0)

    def look_at(self, counts: Floats) -> None:
        """Keep the nearest of these whole numbers (one combination a row) that keeps the rows."""
        self._keep(counts[self._holds(counts @ self._steps.rows.T)])

    def _look_next_to(self, count: Floats) -> None:
        held = self._next_held + self._steps.rows @ count
        self._keep(count + self._next[self._holds(held)])

    def _holds(self, held: Floats) -> Mask:
        slack = FEASIBILITY_TOLERANCE / 2.0
        low, high = self._steps.low - slack, self._steps.high + slack
        found: Mask = np.all((held >= low) & (held <= high), axis=1)
        return found

    def _keep(self, counts: Floats) -> None:
        if len(counts):
            steps = self._steps
            lb = np.abs(counts * steps.step_lb - steps.target_lb).sum(axis=1)
            nearest = int(lb.argmin())
            if lb[nearest] < self.best_lb - _EQUAL_LB:
                self.best, self.best_lb = counts[nearest], float(lb[nearest])

    def branches(self, node: _Node) -> list[_Node]:
        """The two ways out of the number most in parts (the nearer one last); none if settled."""
        if self._is_no_nearer(node.bound) or (node.least > node.most).any():
            return []
        optimum = self._solved(node)
        if optimum is None:
            return []
        bound = self._base_lb + optimum.objective
        n = len(self.below)
        counts = self.below + optimum.x[:n] + optimum.x[n : 2 * n] - optimum.x[2 * n :]
        in_part = np.abs(counts - np.round(counts))
        self._look_next_to(np.floor(counts + _NOISE))
        if self._is_no_nearer(bound):
            return []
        if in_part.max() < _NOISE:
            raise SearchTooLarge(self.best_lb)  # whole for the solver, but not for the rows
        i = int((in_part * self._steps.step_lb).argmax())
        least, most = self._nearer(node, optimum, bound)
        down, up = most.copy(), least.copy()
        down[i] = np.floor(counts[i])
        up[i] = down[i] + 1.0
        fewer, more = _Node(least, down, bound), _Node(up, most, bound)
        return [fewer, more] if counts[i] - down[i] > 0.5 else [more, fewer]

    def _nearer(self, node: _Node, optimum: Optimum, bound_lb: float) -> tuple[Floats, Floats]:
        """Least and most steps with which something nearer than the best is still possible.

        A column at its limit in this node costs its dual for each step it leaves it.
        """
        n, left_lb, below = len(self.below), self.best_lb - bound_lb, self.below
        one, more, fewer = (optimum.col_dual[at : at + n] for at in (0, n, 2 * n))
        may_be_next = (node.least <= below) & (node.most > below)
        least, most = node.least, node.most
        least = np.where(may_be_next & (-one >= left_lb), below + 1.0, least)
        most = np.where(may_be_next & (one >= left_lb), below, most)
        fewest, furthest = np.minimum(node.most, below), np.maximum(node.least, below + 1.0)
        least = np.where(fewer >= left_lb, np.maximum(least, fewest), least)
        most = np.where(more >= left_lb, np.minimum(most, furthest), most)
        return least, most

    def _is_no_nearer(self, bound_lb: float) -> bool:
        return bound_lb >= self.best_lb - _EQUAL_LB

    def _solved(self, node: _Node) -> Optimum | None:
        below, least, most = self.below, node.least, node.most
        lower = [least > below, np.maximum(least - below - 1.0, 0.0), np.maximum(below - most, 0.0)]
        upper = [most > below, np.maximum(most - below - 1.0, 0.0), np.maximum(below - least, 0.0)]
        self._session.set_column_limits(
            self._columns,
            np.concatenate(lower, dtype=np.float64),
            np.concatenate(upper, dtype=np.float64),
        )
        try:
            return self._session.run()
        except EngineFailure as failure:
            raise SearchTooLarge(self.best_lb) from failure


@lru_cache(maxsize=32)
def _combinations(n: int, low: int, high: int) -> Floats:
    found: Floats = np.array(list(product(range(low, high + 1), repeat=n)), dtype=float)
    found.flags.writeable = False
    return found
