"""What one question has proved so far, for the neighbouring questions an explanation asks.

Multipliers of rows prove choices of stocks impossible or too dear (weak duality, see ``supports``);
a recipe proves that whatever it keeps is possible.
"""

from __future__ import annotations

from typing import Final

import numpy as np

from formulas.engine.blend.programs import FEASIBILITY_TOLERANCE, Floats, Limits

#: Stands for "no limit": a multiplier on it makes a bound say nothing.
NO_LIMIT: Final = 1e30
#: Multipliers below this part of the largest are the solver's noise.
_NOISE: Final = 1e-11


class Proved:
    """Rays and recipes, kept for one whole question.

    Rays by matrix, because a moved slow-release share is another one. Recipes as fractions in the
    order of the codes.
    """

    def __init__(self) -> None:
        self._rays: dict[bytes, Multipliers] = {}
        self._recipes: Floats | None = None

    def rays_of(self, A: Floats) -> Multipliers:
        """The rays of this matrix, to be added to."""
        return self._rays.setdefault(A.tobytes(), Multipliers(A, np.zeros(A.shape[1])))

    def add_recipe(self, shares: Floats) -> None:
        """Keep a recipe (n,) that was found; whatever it keeps, it shows to be possible."""
        known = self._recipes
        self._recipes = shares[None] if known is None else np.vstack([known, shares])

    def recipes_within(self, A: Floats, limits: Limits) -> Floats:
        """Those within the limits of the rows of ``A`` (m, n) and of the columns, (k, n)."""
        x = self._recipes
        if x is None:
            return np.zeros((0, A.shape[1]))
        rows, slack = x @ A.T, FEASIBILITY_TOLERANCE
        kept = ((rows >= limits.row_lower - slack) & (rows <= limits.row_upper + slack)).all(axis=1)
        kept &= ((x >= limits.col_lower - slack) & (x <= limits.col_upper + slack)).all(axis=1)
        within: Floats = x[kept]
        return within


class Multipliers:
    """Multipliers of the rows of ``A`` (m, n) for one objective, and what follows from them."""

    def __init__(self, A: Floats, cost: Floats) -> None:
        self._A, self._cost = A, cost
        self.count = 0
        m, n = A.shape
        # One row a set of multipliers: lower limits, upper limits, then reduced costs.
        self._rows, self._reduced = np.zeros((16, 2 * m)), np.zeros((16, n))
        self._slack = np.zeros(16)

    def add(self, multipliers: Floats) -> None:
        """Keep those of one program."""
        at = self.count
        if at == len(self._slack):
            self._rows = np.vstack([self._rows, np.zeros_like(self._rows)])
            self._reduced = np.vstack([self._reduced, np.zeros_like(self._reduced)])
            self._slack = np.append(self._slack, np.zeros_like(self._slack))
        size = np.abs(multipliers)
        y = multipliers * (size > _NOISE * size.max())
        m = len(y)
        np.maximum(y, 0.0, out=self._rows[at, :m])
        np.minimum(y, 0.0, out=self._rows[at, m:])
        self._reduced[at] = self._cost - y @ self._A
        # Whoever keeps the limits within the solver's tolerance is not to be ruled out.
        off = float(size.sum() + np.abs(self._reduced[at]).sum())
        self._slack[at] = FEASIBILITY_TOLERANCE * off
        self.count = at + 1

    def bounds(self, sides: Floats, limits: Limits, supports: Floats) -> Floats:
        """Shape (multipliers, supports): no recipe of the support is below.

        ``sides`` are all finite lower, then upper limits of the rows.
        """
        at = slice(self.count)
        reduced = self._reduced[at]
        terms = np.minimum(reduced * limits.col_lower, reduced * limits.col_upper)
        found: Floats = terms @ supports.T
        found += (self._rows[at] @ sides - self._slack[at])[:, None]
        return found

    def bounds_of_last(self, sides: Floats, limits: Limits, supports: Floats) -> Floats:
        """``bounds`` of the last multipliers alone, shape (supports,)."""
        at = self.count - 1
        reduced = self._reduced[at]
        terms = np.minimum(reduced * limits.col_lower, reduced * limits.col_upper)
        found: Floats = supports @ terms
        found += float(self._rows[at] @ sides) - float(self._slack[at])
        return found
