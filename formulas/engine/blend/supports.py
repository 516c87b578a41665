"""At most so many stocks: every choice of stocks at once, ruled out by what a few programs prove.

A choice of m stocks (a *support*) is one linear program, and ten stocks have only some hundred
of them. For any multipliers y of the rows, with ``r = c - y A``, no recipe of a support T costs
less than::

    sum_i min(y_i b_i over the row's limits)  +  sum_{j in T} min(r_j x_j over the column's limits)

(weak duality), wherever y came from: one product bounds all supports. The duals of one support's
optimum so bound the others; the ray that proves one impossible (c = 0, bound above 0) usually
rules out dozens, and goes on doing so when another question asks for other limits of the same
rows. The support of the lowest bound is solved next, until none is left below the best.
"""

from __future__ import annotations

import math
from dataclasses import replace
from functools import lru_cache
from itertools import combinations
from typing import Final

import numpy as np

from formulas.engine.blend.highs import Session
from formulas.engine.blend.linear_program import Model
from formulas.engine.blend.only_recipe import is_only_recipe
from formulas.engine.blend.programs import Floats, Indices, Limits, Mask, Optimum
from formulas.engine.blend.proved import NO_LIMIT, Multipliers, Proved

#: Choices of stocks looked at together; where there are more they are branched on.
MOST_SUPPORTS: Final = 4_000
#: Objectives closer than this are equal.
_EQUAL: Final = 1e-9


class SupportSearch:
    """The choices of stocks of one linear model; ``session`` holds it and is used for them all."""

    def __init__(self, model: Model, session: Session, proved: Proved) -> None:
        self._model, self._session = model, session
        self._rays = proved.rays_of(model.A)
        self._counted = tuple(i for i, s in enumerate(model.stocks) if not s.is_water)
        self._columns = np.arange(len(model.stocks), dtype=np.int32)

    def is_small(self, most: int) -> bool:
        """Whether there are few enough choices."""
        return math.comb(len(self._counted), min(most, len(self._counted))) <= MOST_SUPPORTS

    def best(
        self,
        limits: Limits,
        cost: Floats,
        most: int,
        *,
        below: float = np.inf,
        any_will_do: bool = False,
    ) -> list[Optimum]:
        """The recipes of least ``cost`` with ``most`` stocks: one a support, none if impossible.

        Each says whether it is the only one of its support.

        Nothing is looked for that costs more than ``below``. The session's objective is ``cost``.
        """
        count = min(most, len(self._counted))
        supports = _supports(len(self._columns), self._counted, count)
        bounds = _Bounds(Multipliers(self._model.A, cost), self._rays, limits, supports)
        self._session.set_limits(limits)
        found: list[Optimum] = []
        while (at := bounds.lowest(below)) is not None:
            upper = supports[at] * limits.col_upper
            self._session.set_column_limits(self._columns, limits.col_lower, upper)
            optimum = self._session.run()
            bounds.rule_out(at)
            if optimum is None:
                ray = self._session.ray()
                if ray is not None and ray.any():
                    bounds.add_ray(ray)
                continue
            if any_will_do:
                return [optimum]
            bounds.add_duals(optimum.row_dual)
            if optimum.objective < below + _EQUAL:
                if optimum.objective < below - _EQUAL:
                    found = []
                within = replace(limits, col_upper=upper)
                is_only = is_only_recipe(self._session, within, optimum)
                found.append(replace(optimum, is_only=is_only))
                below = min(below, optimum.objective)
                bounds.know(optimum.x > 0)
        return [each for each in found if each.objective <= below + _EQUAL]


@lru_cache(maxsize=32)
def _supports(width: int, counted: tuple[int, ...], count: int) -> Floats:
    """1 where a column may be used, one row a choice; what is not counted always may be."""
    chosen: Indices = np.array(list(combinations(counted, count)), dtype=np.int32)
    found = np.ones((len(chosen), width))
    found[:, list(counted)] = 0.0
    found[np.arange(len(chosen))[:, None], chosen] = 1.0
    return found


class _Bounds:
    """What is proved of every support within one set of limits."""

    def __init__(
        self, duals: Multipliers, rays: Multipliers, limits: Limits, supports: Floats
    ) -> None:
        self._duals, self._rays = duals, rays
        self._limits, self._supports = limits, supports
        self._sides = np.concatenate([limits.row_lower, limits.row_upper])
        np.maximum(self._sides, -NO_LIMIT, out=self._sides)
        np.minimum(self._sides, NO_LIMIT, out=self._sides)
        self._is_left: Mask = np.ones(len(supports), dtype=bool)
        if limits.col_lower.any():
            self._is_left = np.all(supports[:, limits.col_lower > 0] > 0, axis=1)
        #: How near a support is to being impossible; the farthest is tried first.
        self._strain: Floats = np.full(len(supports), -np.inf)
        self._least: Floats = np.full(len(supports), -np.inf)
        self._is_known: Mask = np.zeros(len(supports), dtype=bool)
        if rays.count:
            self._strained(rays.bounds(self._sides, limits, supports).max(axis=0))

    def lowest(self, below: float) -> int | None:
        """The support to be solved next; None where none is left that could cost less."""
        (left,) = self._is_left.nonzero()
        if self._duals.count and left.size:
            least = self._least[left]
            lowest = least.min()
            if lowest > below + _EQUAL:
                return None
            left = left[least <= lowest + _EQUAL]
            if lowest >= below - _EQUAL:
                # As good as the best at most, and with its stocks it is the same recipe.
                left = left[~self._is_known[left]]
        return int(left[self._strain[left].argmin()]) if left.size else None

    def rule_out(self, support: int) -> None:
        self._is_left[support] = False

    def know(self, used: Mask) -> None:
        """A recipe of these columns is known to cost the least so far."""
        self._is_known |= self._supports[:, used].all(axis=1)

    def add_ray(self, ray: Floats) -> None:
        self._rays.add(ray / np.abs(ray).max())  # of one size, or strains would not compare
        self._strained(self._bounds_of_last(self._rays))

    def add_duals(self, duals: Floats) -> None:
        self._duals.add(duals)
        np.maximum(self._least, self._bounds_of_last(self._duals), out=self._least)

    def _bounds_of_last(self, multipliers: Multipliers) -> Floats:
        return multipliers.bounds_of_last(self._sides, self._limits, self._supports)

    def _strained(self, bound: Floats) -> None:
        self._is_left &= bound <= 0.0
        np.maximum(self._strain, bound, out=self._strain)
