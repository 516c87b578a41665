"""A blend question as a linear program in which every limit knows the wish it came from.

Sets: stocks i (sorted by code, so a permuted catalogue is the same program), nutrients k.
Data: content ``A_ki`` and limits ``lo_k, hi_k`` in percent by weight, cost ``c_i`` in $/lb,
slowly available nitrogen ``slow_i``, slow-release share ``s``. Variables: mass fractions
``x_i``; ``v_i`` gallons that a pound of stock i adds (``cost_ceiling``)::

    min  sum c_i x_i
    subject to  sum x_i = 1
                lo_k <= sum A_ki x_i <= hi_k            each nutrient wish
                sum (slow_i - s N_i) x_i >= 0           slow release at least s of total N
                sum (c_i - C v_i) x_i <= 0              cost of a gallon at most C
                l_i <= x_i <= u_i                       stock limits

In words: the cheapest set of shares that adds up to the whole, holds every nutrient between its
limits, has enough of its nitrogen slowly available, costs no more by the gallon than it may, and
uses each stock within its own limits.

By hand: 32 % N at $0.20 and water at $0, at least 28 % N: 28/32 = 87.5 % of the first.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from functools import lru_cache
from typing import Final

import numpy as np

from formulas.engine.blend.programs import Floats, Limits, Mask, Program
from formulas.engine.blend.stock_table import (
    N_COLUMN,
    ONES_ROW,
    SLOW_COLUMNS,
    SLOW_ROW,
    TABLE_COLUMN,
    StockTable,
    in_code_order,
    stock_table,
)
from formulas.engine.problem import BlendProblem, CostCeiling, Stock
from formulas.engine.wishes import Side, WishId, WishKind
from formulas.engine.work.once import once_per_tuple

TOTAL_ROW: Final = 0
_SIDES: Final = (Side.LEAST, Side.MOST)


@dataclass(frozen=True, slots=True)
class Place:
    """One limit of the program: of a row or of a column, in the program's own units."""

    is_row: bool
    index: int
    value: float


@dataclass(frozen=True, slots=True)
class Wish:
    """A wish and the limits it sets in the program.

    ``asked`` is in the wish's unit (percent, or a number of stocks), None if it has no number.
    """

    id: WishId
    asked: float | None
    places: tuple[Place, ...]

    @property
    def kind(self) -> WishKind:
        """Where it comes from."""
        return self.id.kind

    @property
    def at_least(self) -> bool:
        """Whether it is a lower limit."""
        return self.id.at_least

    @property
    def is_soft(self) -> bool:
        """Whether a person may give it up."""
        return self.id.is_soft


@dataclass(frozen=True, slots=True)
class Model:
    """Arrays of a question. The first ``len(stocks)`` columns are the shares.

    ``base`` holds only what is true of any blend (shares add up to 1); every other limit
    belongs to a wish. ``binary_column`` maps a stock's column to its binary column, if it has one.
    """

    stocks: tuple[Stock, ...]
    table: Floats
    cost: Floats
    A: Floats
    base: Limits
    wishes: tuple[Wish, ...]
    integer: Mask
    binary_column: dict[int, int]

    def limits(self, wishes: Iterable[Wish] | None = None) -> Limits:
        """All limits while only ``wishes`` are asked (default: all of them)."""
        limits = self.base.copy()
        for wish in self.wishes if wishes is None else wishes:
            at_least = wish.id.side is Side.LEAST
            for place in wish.places:
                if at_least:
                    values = limits.row_lower if place.is_row else limits.col_lower
                    if place.value > values[place.index]:
                        values[place.index] = place.value
                else:
                    values = limits.row_upper if place.is_row else limits.col_upper
                    if place.value < values[place.index]:
                        values[place.index] = place.value
        return limits

    def program(self, limits: Limits) -> Program:
        """The arrays for the solver."""
        return Program(cost=self.cost, A=self.A, limits=limits, integer=self.integer)

    @property
    def n_n(self) -> Floats:
        """Total nitrogen of each stock, percent."""
        return self.table[:, N_COLUMN]

    @property
    def slow_n(self) -> Floats:
        """Slowly available nitrogen of each stock, percent."""
        slow: Floats = self.table[:, SLOW_COLUMNS].sum(axis=1)
        return slow

    def row_of(self, shares_row: Floats) -> Floats:
        """A row over all columns from one over the stocks."""
        row = np.zeros(self.A.shape[1])
        row[: len(self.stocks)] = shares_row
        return row

    def with_row(self, shares_row: Floats) -> Model:
        """The same model with one more, unlimited row at the end."""
        return Model(
            stocks=self.stocks,
            table=self.table,
            cost=self.cost,
            A=np.vstack([self.A, self.row_of(shares_row)]),
            base=self.base.with_free_row(),
            wishes=self.wishes,
            integer=self.integer,
            binary_column=self.binary_column,
        )

    def linear(self) -> Model:
        """The same model with its binary columns taken as ordinary ones."""
        return Model(
            stocks=self.stocks,
            table=self.table,
            cost=self.cost,
            A=self.A,
            base=self.base,
            wishes=self.wishes,
            integer=np.zeros_like(self.integer),
            binary_column=self.binary_column,
        )


def linear_model(problem: BlendProblem) -> Model:
    """The linear program of a valid problem; rules and numbers of stocks are left out.

    Leaving those out only widens the choice: if the answer happens to keep them, it is the
    answer to the whole question.
    """
    stocks = in_code_order(problem.stocks)
    arrays = stock_table(stocks)
    rows = [ONES_ROW]
    wishes: list[Wish] = []
    for index, target in enumerate(problem.wishes):
        rows.append(TABLE_COLUMN[target.nutrient])
        sides = (target.min_pct, target.max_pct)
        wishes += _both_sides(WishKind.NUTRIENT, target.nutrient, index, sides, row=1 + index)
    slow_sides = _slow_sides(problem)
    wished, n = len(rows), len(stocks)
    ceiling = problem.cost_ceiling
    m = wished + len(slow_sides) + (ceiling is not None)
    A = arrays.rows[rows + [SLOW_ROW] * len(slow_sides) + [ONES_ROW] * (ceiling is not None)]
    for row, (side, share) in enumerate(slow_sides, wished):
        A[row] -= share / 100.0 * arrays.rows[N_COLUMN]
        place = Place(is_row=True, index=row, value=0.0)
        wishes.append(Wish(_id(WishKind.SLOW_RELEASE, side), share, (place,)))
    if ceiling is not None:
        A[-1] = arrays.cost_per_lb - ceiling.largest * gal_per_lb(ceiling, stocks)
        place = Place(is_row=True, index=m - 1, value=0.0)
        costs = WishId(WishKind.COST_PER_GAL, Side.MOST)
        wishes.append(Wish(costs, ceiling.max_per_gal, (place,)))
    wishes += _stock_wishes(problem, arrays)

    base = Limits(np.full(m, -np.inf), np.full(m, np.inf), np.zeros(n), np.ones(n))
    base.row_lower[TOTAL_ROW] = base.row_upper[TOTAL_ROW] = 1.0
    return Model(
        stocks=stocks,
        table=arrays.contents,
        cost=arrays.cost_per_lb,
        A=A,
        base=base,
        wishes=tuple(wishes),
        integer=np.zeros(n, dtype=bool),
        binary_column={},
    )


def gal_per_lb(ceiling: CostCeiling, stocks: tuple[Stock, ...]) -> Floats:
    """Gallons a pound of each stock adds, shape (n,); ``stocks`` in the order of the codes."""
    if ceiling.gal_per_lb is not None:
        return np.array(ceiling.gal_per_lb)
    return np.array([1.0 / stock.density_lb_per_gal for stock in stocks])


def _stock_wishes(problem: BlendProblem, arrays: StockTable) -> list[Wish]:
    """The user's limits on stocks, then stocks left out, then the stocks' own limits."""
    column = arrays.position
    wishes: list[Wish] = []
    for index, limit in enumerate(problem.stock_limits):
        wishes += _both_sides(
            WishKind.STOCK_LIMIT,
            limit.code,
            index,
            (limit.min_pct, limit.max_pct),
            column=column[limit.code],
        )
    for code in sorted(problem.exclude):
        place = Place(is_row=False, index=column[code], value=0.0)
        wishes.append(Wish(_id(WishKind.LEFT_OUT, Side.MOST, code), None, (place,)))
    own = _own_limits(arrays.stocks)
    if problem.exclude:
        # A stock left out is not on offer, so its own minimum does not call for it.
        own = tuple(w for w in own if not (w.at_least and w.id.key in problem.exclude))
    wishes += own
    return wishes


@once_per_tuple
def _own_limits(stocks: tuple[Stock, ...]) -> tuple[Wish, ...]:
    wishes: list[Wish] = []
    for i, stock in enumerate(stocks):
        least = stock.min_pct if stock.min_pct > 0 else None
        most = stock.max_pct if stock.max_pct < 100 else None
        wishes += _both_sides(WishKind.OWN_LIMIT, stock.code, None, (least, most), column=i)
    return tuple(wishes)


def _both_sides(
    kind: WishKind,
    key: str,
    index: int | None,
    sides: tuple[float | None, float | None],
    *,
    row: int | None = None,
    column: int = 0,
) -> list[Wish]:
    """Wishes of a row, in percent as asked, or of a column, in fractions."""
    found = []
    for side, asked in zip(_SIDES, sides, strict=True):
        if asked is not None:
            if row is None:
                place = Place(is_row=False, index=column, value=0.01 * asked)
            else:
                place = Place(is_row=True, index=row, value=asked)
            found.append(Wish(_id(kind, side, key, index), asked, (place,)))
    return found


#: Nutrients and stocks are few, and their identities are asked for with every question.
_id = lru_cache(maxsize=4096)(WishId)


def _slow_sides(problem: BlendProblem) -> list[tuple[Side, float]]:
    """The limits on the slow-release share, percent of total nitrogen."""
    slow = problem.slow_release
    if slow is None:
        return []
    sides = zip(_SIDES, (slow.min_pct, slow.max_pct), strict=True)
    return [(side, share) for side, share in sides if share is not None]
