"""The arrays of a linear program, also over whole numbers, and of its answer.

Mathematics (all problems here are minimised)::

    min  c'x   subject to   row_lower <= A x <= row_upper,   col_lower <= x <= col_upper,
                            x_j integer where ``integer[j]``

In words: choose amounts x that cost least, keep every total within its two limits and every
amount within its own.

Sign convention of the duals (checked against a problem worked by hand in the tests)::

    min 2x + 3y   subject to   x + y >= 10,   x <= 4,   x, y >= 0

has the optimum x = 4, y = 6 and cost 26. ``row_dual`` of "x + y at least 10" is +3: asking for
one more costs 3 more. ``col_dual`` of x, stuck at its upper limit 4, is -1: allowing one more
saves 1. A dual is always *change of the least cost per unit by which the binding limit is
raised*, for lower and upper limits alike.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Final

import numpy as np
from numpy.typing import NDArray

from formulas.engine.result import EngineFailure

Floats = NDArray[np.float64]
Mask = NDArray[np.bool_]
Indices = NDArray[np.int32]

#: Tighter than HiGHS's 1e-7 (LP) and 1e-6 (MIP), because a trace nutrient is 0.0005 %.
FEASIBILITY_TOLERANCE: Final = 1e-9


@dataclass(frozen=True, slots=True)
class Limits:
    """Lower and upper limits of all rows (m,) and columns (n,); infinite is allowed."""

    row_lower: Floats
    row_upper: Floats
    col_lower: Floats
    col_upper: Floats

    def copy(self) -> Limits:
        """The same limits in arrays of their own."""
        return Limits(
            self.row_lower.copy(),
            self.row_upper.copy(),
            self.col_lower.copy(),
            self.col_upper.copy(),
        )

    def with_free_row(self) -> Limits:
        """The same limits and one more row at the end without any."""
        return Limits(
            np.append(self.row_lower, -np.inf),
            np.append(self.row_upper, np.inf),
            self.col_lower.copy(),
            self.col_upper.copy(),
        )


@dataclass(frozen=True, slots=True)
class SparseRows:
    """Rows of a matrix as compressed rows: ``start`` (rows + 1,), ``column``, ``value``.

    Thousands of columns would be gigabytes when dense.
    """

    start: Indices
    column: Indices
    value: Floats


@dataclass(frozen=True, slots=True)
class Program:
    """Arrays of one model: m rows, n columns, ``A`` dense (m, n) or its rows compressed."""

    cost: Floats
    A: Floats | SparseRows
    limits: Limits
    integer: Mask


@dataclass(frozen=True, slots=True)
class Optimum:
    """Values and duals of an optimal answer; the duals of a MIP are all zero.

    ``gap`` is how far below the objective (relatively) something better is not ruled out: 0
    where the answer is proven best. ``is_only`` where no other is known to be possible as good,
    as far as anybody asked.
    """

    objective: float
    x: Floats
    row_dual: Floats
    col_dual: Floats
    gap: float = 0.0
    is_only: bool = False


def compressed(dense: Floats) -> SparseRows:
    """The rows of a dense matrix without its zeros."""
    rows, columns = np.nonzero(dense)
    return SparseRows(
        start=np.searchsorted(rows, np.arange(len(dense) + 1)).astype(np.int32),
        column=columns.astype(np.int32),
        value=dense[rows, columns],
    )


def refuse_not_finite(values: Floats, what: str) -> None:
    # Squares add up to a number only if all are numbers; very large ones are looked at one by one.
    if not math.isfinite(values @ values) and not np.isfinite(values).all():
        raise EngineFailure(f"The {what} holds a number that is not finite.")


def refuse_nan(limits: Limits) -> None:
    for values in (limits.row_lower, limits.row_upper, limits.col_lower, limits.col_upper):
        if math.isnan(values @ values):  # squares of limits that are infinite add up to infinity
            raise EngineFailure("A limit is not a number.")
