"""Many orders and scarce stocks as one sparse program.

Sets: orders o, stocks i. Data: size ``m_o`` (lb), recipe ``r_oi`` (fractions), contents
``A_ki``, on hand ``h_i`` (lb), cost ``c_i`` ($/lb), penalty ``p_o`` ($ per lb not made).
Variables, all 0 or more, as fractions of the order: ``f_o`` made by its own recipe, ``x_oi`` of
stock i in a changed one (only for orders whose recipe may change), ``z_o`` not made::

    min  sum_o m_o ( sum_i c_i (r_oi f_o + x_oi)  +  d sum_i x_oi  +  p_o z_o )
    subject to  f_o + sum_i x_oi + z_o = 1                             each order
                sum_o m_o (r_oi f_o + x_oi) <= h_i                     each stock, all orders
                sum_i (A_ki - lo_k) x_oi >= 0,  sum_i (A_ki - hi_k) x_oi <= 0    its guarantees
                sum_i (slow_i - s N_i) x_oi >= 0                       its slow share
                z_o is 0 or 1 where the order takes all or nothing

In words: make as much of what matters most as the stock on hand allows, at the least cost, and
change a recipe only where that lets more be made: ``d``, the price of a changed pound, is more
than any change could save. By hand: 100 lb of a stock, two orders of 100 lb that each need 60 lb
of it: one is made, and 40 lb stay for the other.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from typing import Final

import numpy as np
from numpy.typing import NDArray

from formulas.engine.highs import Floats, Limits, Mask, Optimum, Program, Session, set_options
from formulas.engine.linear_program import N_COLUMN, SLOW_COLUMNS, TABLE_COLUMN, content_table
from formulas.engine.problem import (
    CompatibilityRule,
    Effect,
    NutrientWish,
    SlowReleaseWish,
    Stock,
)
from formulas.engine.result import EngineFailure

Indices = NDArray[np.int32]
#: What changing a pound costs above the dearest stock, $/lb, so that no saving ever pays for it.
_CHANGE: Final = 0.01


@dataclass(frozen=True, slots=True)
class OpenOrder:
    """An order not made yet. ``recipe`` holds percent by weight by stock code.

    ``penalty_per_lb`` says what leaving a pound unmade is worth ($/lb), see ``penalty_per_lb``.
    ``may_change``: another recipe within ``wishes`` and ``slow_release`` (its guarantees) will do.
    ``may_be_partial``: part of it may be made now; otherwise all or nothing. ``exclude``: codes
    of stocks that may not join its recipe.
    """

    code: str
    mass_lb: float
    recipe: Mapping[str, float]
    penalty_per_lb: float
    wishes: tuple[NutrientWish, ...] = ()
    slow_release: SlowReleaseWish | None = None
    may_change: bool = False
    may_be_partial: bool = False
    exclude: frozenset[str] = frozenset()


@dataclass(frozen=True, slots=True)
class SparseRows:
    """Rows of a program as compressed rows: ``start`` (rows + 1,), ``column``, ``value``."""

    start: Indices
    column: Indices
    value: Floats


@dataclass(frozen=True, slots=True)
class AllocationProgram:
    """The arrays; ``made`` is the column ``f_o``, ``unmade`` that of ``z_o`` of each order.

    ``changed`` maps an order to its (stock positions, columns). The last ``len(stocks)`` rows
    are the stocks.
    """

    cost: Floats
    rows: SparseRows
    limits: Limits
    made: Indices
    unmade: Indices
    changed: Mapping[int, tuple[Indices, Indices]]

    @property
    def shape(self) -> tuple[int, int]:
        """Rows and columns."""
        return len(self.limits.row_lower), len(self.cost)


class SparseSession(Session):
    """A solver whose rows arrive sparse; thousands of columns would be gigabytes when dense."""

    def __init__(
        self,
        cost: Floats,
        rows: SparseRows,
        limits: Limits,
        *,
        integer: Mask | None = None,
        time_limit_s: float,
    ) -> None:
        n = len(cost)
        none = np.zeros(0)
        super().__init__(
            Program(
                cost=cost,
                A=np.zeros((0, n)),
                limits=Limits(none, none, limits.col_lower, limits.col_upper),
                integer=np.zeros(n, dtype=bool) if integer is None else integer,
            ),
            time_limit_s=time_limit_s,
        )
        sides = np.concatenate([limits.row_lower, limits.row_upper])
        if not np.isfinite(rows.value).all() or np.isnan(sides).any():
            raise EngineFailure("The matrix holds a number that is not finite.")
        m = len(limits.row_lower)
        self._solver.addRows(
            m,
            limits.row_lower,
            limits.row_upper,
            len(rows.value),
            rows.start[:-1],
            rows.column,
            rows.value,
        )
        if self._solver.getNumRow() != m or self._solver.getNumNz() != len(rows.value):
            raise EngineFailure("The solver refused the rows.")
        self._rows = np.arange(m, dtype=np.int32)

    def first(self) -> Optimum:
        """The optimum found from inside (interior point and crossover); later runs start from it.

        Twice as fast as the simplex from nothing at this size, and it leaves a basis as well.
        """
        set_options(self._solver, {"solver": "ipm", "presolve": "on"})
        optimum = self.solved()
        set_options(self._solver, {"solver": "choose", "presolve": "off"})
        return optimum

    def fix(self, columns: Indices, lower: Floats, upper: Floats) -> None:
        """Replace the limits of some columns."""
        self._solver.changeColsBounds(len(columns), columns, lower, upper)

    def solved(self) -> Optimum:
        """The optimum; leaving everything unmade is always possible, so there is one."""
        optimum = self.run()
        if optimum is None:
            raise EngineFailure("The allocation has no answer, which cannot be.")
        return optimum


class _Builder:
    """Rows as they come, one array for each part, joined once at the end."""

    def __init__(self) -> None:
        self._columns: list[Indices] = []
        self._values: list[Floats] = []
        self.lower: list[float] = []
        self.upper: list[float] = []

    def add(self, columns: Indices, values: Floats, low: float, high: float) -> None:
        kept = values != 0
        self._columns.append(columns[kept])
        self._values.append(values[kept])
        self.lower.append(low)
        self.upper.append(high)

    def rows(self) -> SparseRows:
        counts = np.array([0, *(len(part) for part in self._columns)], dtype=np.int32)
        return SparseRows(
            start=counts.cumsum(dtype=np.int32),
            column=np.concatenate(self._columns).astype(np.int32),
            value=np.concatenate(self._values),
        )


def allocation_program(
    orders: Sequence[OpenOrder],
    stocks: Sequence[Stock],
    on_hand_lb: Floats,
    rules: Sequence[CompatibilityRule],
) -> AllocationProgram:
    """The arrays of a checked question; see the module for the mathematics."""
    position = {stock.code: i for i, stock in enumerate(stocks)}
    table = content_table(stocks)
    price = np.array([stock.cost_per_lb for stock in stocks], dtype=float)
    change = float(price.max()) + _CHANGE
    recipes = [_recipe(order, position) for order in orders]
    n = len(orders)
    made, unmade = np.arange(n, dtype=np.int32), np.arange(n, 2 * n, dtype=np.int32)
    width = 2 * n
    changed: dict[int, tuple[Indices, Indices]] = {}
    for o, order in enumerate(orders):
        if order.may_change:
            usable = _usable(recipes[o][0], stocks, rules, order.exclude)
            changed[o] = (usable, np.arange(width, width + len(usable), dtype=np.int32))
            width += len(usable)
    cost = np.empty(width)
    build = _Builder()
    for o, order in enumerate(orders):
        where, fraction = recipes[o]
        cost[made[o]] = order.mass_lb * float(price[where] @ fraction)
        cost[unmade[o]] = order.mass_lb * order.penalty_per_lb
        columns = [made[o : o + 1], unmade[o : o + 1]]
        if o in changed:
            usable, its = changed[o]
            cost[its] = order.mass_lb * (price[usable] + change)
            columns.append(its)
            _guarantees(build, order, [stocks[i] for i in usable], table[usable], its, rules)
        mine = np.concatenate(columns)
        build.add(mine, np.ones(len(mine)), 1.0, 1.0)
    size = np.array([order.mass_lb for order in orders]) / average_lb(orders)
    _coupling(build, size, recipes, changed, made, on_hand_lb / average_lb(orders))
    return AllocationProgram(
        cost=cost,
        rows=build.rows(),
        limits=Limits(
            np.array(build.lower), np.array(build.upper), np.zeros(width), np.ones(width)
        ),
        made=made,
        unmade=unmade,
        changed=changed,
    )


def own_lb_per_lb(order: OpenOrder, stocks: Sequence[Stock]) -> Floats:
    """Pounds of each stock in a pound of the order by its own recipe."""
    return np.array([order.recipe.get(stock.code, 0.0) for stock in stocks]) / 100.0


def average_lb(orders: Sequence[OpenOrder]) -> float:
    """Size of an average order, the unit of the stock rows."""
    return float(np.mean([order.mass_lb for order in orders]))


def _recipe(order: OpenOrder, position: Mapping[str, int]) -> tuple[Indices, Floats]:
    used = [(position[code], pct / 100.0) for code, pct in order.recipe.items() if pct > 0]
    return (
        np.array([i for i, _ in used], dtype=np.int32),
        np.array([fraction for _, fraction in used]),
    )


def _coupling(
    build: _Builder,
    size: Floats,
    recipes: Sequence[tuple[Indices, Floats]],
    changed: Mapping[int, tuple[Indices, Indices]],
    made: Indices,
    held: Floats,
) -> None:
    """One row a stock over all orders, sorted out of one list of (stock, column, amount).

    In units of an average order, so that the solver's tolerance means the same in every row.
    """
    parts = [
        *(
            (where, np.full(len(where), made[o]), size[o] * part)
            for o, (where, part) in enumerate(recipes)
        ),
        *((where, its, np.full(len(its), size[o])) for o, (where, its) in changed.items()),
    ]
    stock = np.concatenate([where for where, _, _ in parts])
    column = np.concatenate([columns for _, columns, _ in parts]).astype(np.int32)
    value = np.concatenate([values for _, _, values in parts])
    order = np.argsort(stock, kind="stable")
    ends = np.searchsorted(stock[order], np.arange(len(held) + 1))
    for i, most in enumerate(held):
        mine = order[ends[i] : ends[i + 1]]
        build.add(column[mine], value[mine], -np.inf, float(most))


def _guarantees(
    build: _Builder,
    order: OpenOrder,
    stocks: Sequence[Stock],
    table: Floats,
    columns: Indices,
    rules: Sequence[CompatibilityRule],
) -> None:
    """Rows that keep a changed recipe within the order's guarantees, in percent of the order."""
    for wish in order.wishes:
        content = table[:, TABLE_COLUMN[wish.nutrient]]
        if wish.min_pct is not None:
            build.add(columns, content - wish.min_pct, 0.0, np.inf)
        if wish.max_pct is not None:
            build.add(columns, content - wish.max_pct, -np.inf, 0.0)
    if order.slow_release is not None:
        slow, total = table[:, SLOW_COLUMNS].sum(axis=1), table[:, N_COLUMN]
        if (least := order.slow_release.min_pct) is not None:
            build.add(columns, slow - least / 100.0 * total, 0.0, np.inf)
        if (most := order.slow_release.max_pct) is not None:
            build.add(columns, slow - most / 100.0 * total, -np.inf, 0.0)
    for row in _share_limits(stocks, rules):
        build.add(columns, 100.0 * row, -np.inf, 0.0)


def _share_limits(stocks: Sequence[Stock], rules: Sequence[CompatibilityRule]) -> Iterator[Floats]:
    """Own limits, and limit rules as if the other stock were always there: on the safe side."""
    for i, stock in enumerate(stocks):
        if stock.max_pct < 100:
            row = np.full(len(stocks), -stock.max_pct / 100.0)
            row[i] += 1.0
            yield row
    for rule in rules:
        if rule.effect is not Effect.LIMIT:
            continue
        is_b = np.array([rule.trait_b in stock.traits for stock in stocks], dtype=float)
        for j in np.flatnonzero(is_b):
            limited = np.array(
                [rule.trait_a in s.traits and i != j for i, s in enumerate(stocks)], dtype=float
            )
            if limited.any() and rule.largest_ratio is not None:
                yield limited - rule.largest_ratio * is_b
            elif limited.any():
                yield limited - (rule.largest_pct or 0.0) / 100.0


def _usable(
    recipe: Indices,
    stocks: Sequence[Stock],
    rules: Sequence[CompatibilityRule],
    exclude: frozenset[str],
) -> Indices:
    """Stocks of the recipe and those that may join it: none that any of them must not meet.

    Candidates join cheapest first, each only if it may meet all that joined before, so that a
    changed recipe never needs a yes/no column for a forbidden pair. This may leave out a change
    that would be possible, never let in one that is not.
    """
    blocks = [rule for rule in rules if rule.effect is Effect.BLOCKS]
    joined = list(recipe)
    for i in sorted(range(len(stocks)), key=lambda i: (stocks[i].cost_per_lb, stocks[i].code)):
        if i in joined or stocks[i].code in exclude:
            continue
        if not any(_must_not_meet(stocks[i], stocks[j], blocks) for j in joined):
            joined.append(i)
    return np.array(sorted(joined), dtype=np.int32)


def _must_not_meet(first: Stock, second: Stock, blocks: Sequence[CompatibilityRule]) -> bool:
    return any(
        (rule.trait_a in first.traits and rule.trait_b in second.traits)
        or (rule.trait_b in first.traits and rule.trait_a in second.traits)
        for rule in blocks
    )
