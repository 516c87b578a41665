"""Many orders and scarce stocks as one sparse program.

Sets: orders o, groups g of orders with one recipe and one set of guarantees, stocks i. Data:
size ``m_o`` (lb by the own recipe), ``M_g`` that of a group, recipe ``r_gi`` (fractions),
contents ``A_ki``, on hand ``h_i`` (lb), cost ``c_i`` ($/lb), penalty ``p_o`` ($ per lb not made),
``q_gi`` what a pound of stock i fills of a pound of the own recipe: 1 where pounds are ordered,
own density over the stock's where gallons are. Variables, all 0 or more, as fractions of the
group: ``f_g`` made by the own recipe, ``x_gi`` pounds of stock i in changed ones (only where
the recipe may change); as a fraction of the order: ``z_o`` not made::

    min  sum_g M_g ( sum_i c_i (r_gi f_g + x_gi)  +  d sum_i q_gi x_gi )  +  sum_o m_o p_o z_o
    subject to  f_g + sum_i q_gi x_gi + sum_{o in g} (m_o / M_g) z_o = 1   each group
                sum_g M_g (r_gi f_g + x_gi) <= h_i                     each stock, all groups
                sum_i (A_ki - lo_k) x_gi >= 0,  sum_i (A_ki - hi_k) x_gi <= 0    its guarantees
                sum_i (slow_i - s N_i) x_gi >= 0                       its slow share
                z_o <= 1, and 0 or 1 where the order takes all or nothing

In words: make as much of what matters most as the stock on hand allows, at the least cost, and
change a recipe only where that lets more be made: ``d``, the price of a changed pound, is more
than any change could save. By hand: 100 lb of a stock, two orders of 100 lb that each need 60 lb
of it: one is made, and 40 lb stay for the other.

A group loses nothing: its guarantees are cones, so any sharing of ``f_g`` and ``x_g`` among its
orders keeps them. Volumes of stocks add up, as in every density of this engine (``density``).
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from typing import Final

import numpy as np

from formulas.engine.highs import Floats, Indices, Limits, SparseRows
from formulas.engine.linear_program import N_COLUMN, SLOW_COLUMNS, TABLE_COLUMN, content_table
from formulas.engine.problem import (
    CompatibilityRule,
    Effect,
    NutrientWish,
    SlowReleaseWish,
    Stock,
)

#: What changing a pound costs above the dearest stock, $/lb, so that no saving ever pays for it.
_CHANGE: Final = 0.01
#: By so much more a changed recipe of ordered gallons is made: its shares and its density are
#: rounded later, and still have to fill them.
SURPLUS: Final = 1e-4
#: The solver drops smaller coefficients; we drop them first, and every plan is checked anyway.
_SMALLEST: Final = 1e-9


@dataclass(frozen=True, slots=True)
class OpenOrder:
    """An order not made yet. ``recipe`` holds percent by weight by stock code.

    ``penalty_per_lb`` says what leaving a pound unmade is worth ($/lb), see ``penalty_per_lb``.
    ``may_change``: another recipe within ``wishes`` and ``slow_release`` (its guarantees) will do.
    ``by_volume``: gallons are ordered, so another recipe makes as many gallons as ``mass_lb`` of
    the own one and may weigh more or less. ``may_be_partial``: part of it may be made now;
    otherwise all or nothing. ``exclude``: codes of stocks that may not join its recipe.
    """

    code: str
    mass_lb: float
    recipe: Mapping[str, float]
    penalty_per_lb: float
    wishes: tuple[NutrientWish, ...] = ()
    slow_release: SlowReleaseWish | None = None
    may_change: bool = False
    by_volume: bool = False
    may_be_partial: bool = False
    exclude: frozenset[str] = frozenset()


@dataclass(frozen=True, slots=True)
class Group:
    """Orders with one recipe and one set of guarantees.

    ``orders`` are their positions, ``mass_lb`` their masses added. ``made`` is the column
    ``f_g``; ``usable`` the positions of the stocks of a changed recipe and ``changed`` their
    columns ``x_gi``, both empty where it may not change; ``filled`` is ``q_gi`` of every stock.
    """

    orders: Indices
    mass_lb: float
    own: Floats
    made: int
    usable: Indices
    changed: Indices
    filled: Floats


@dataclass(frozen=True, slots=True)
class AllocationProgram:
    """The arrays; ``unmade`` is the column ``z_o`` of each order. The last rows are the stocks."""

    cost: Floats
    rows: SparseRows
    limits: Limits
    groups: tuple[Group, ...]
    unmade: Indices

    @property
    def shape(self) -> tuple[int, int]:
        """Rows and columns."""
        return len(self.limits.row_lower), len(self.cost)


class _Builder:
    """Rows as they come, one array for each part, joined once at the end."""

    def __init__(self) -> None:
        self._columns: list[Indices] = []
        self._values: list[Floats] = []
        self.lower: list[float] = []
        self.upper: list[float] = []

    def add(self, columns: Indices, values: Floats, low: float, high: float) -> None:
        kept = np.abs(values) > _SMALLEST
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


@dataclass(frozen=True, slots=True)
class _Scaled:
    """Adds rows of a builder times a number."""

    build: _Builder
    times: float

    def add(self, columns: Indices, values: Floats, low: float, high: float) -> None:
        self.build.add(columns, self.times * values, low, high)


def allocation_program(
    orders: Sequence[OpenOrder],
    stocks: Sequence[Stock],
    on_hand_lb: Floats,
    rules: Sequence[CompatibilityRule],
) -> AllocationProgram:
    """The arrays of a checked question; see the module for the mathematics."""
    table = content_table(stocks)
    price = np.array([stock.cost_per_lb for stock in stocks], dtype=float)
    change = change_per_lb(stocks)
    mass = np.array([order.mass_lb for order in orders])
    groups = tuple(_groups(orders, stocks, rules))
    unmade = np.arange(len(groups), len(groups) + len(orders), dtype=np.int32)
    width = len(groups) + len(orders) + sum(len(group.changed) for group in groups)
    cost, upper = np.empty(width), np.ones(width)
    cost[unmade] = mass * np.array([order.penalty_per_lb for order in orders])
    build = _Builder()
    for group in groups:
        cost[group.made] = group.mass_lb * float(price @ group.own)
        filled = group.filled[group.usable]
        cost[group.changed] = group.mass_lb * (price[group.usable] + change * filled)
        upper[group.changed] = np.inf
        if len(group.changed):
            joined = [stocks[i] for i in group.usable]
            order = orders[group.orders[0]]
            # The tolerance then means the same for an order of the group, however many there are.
            rows = _Scaled(build, float(len(group.orders)))
            _guarantees(rows, order, joined, table[group.usable], group.changed, rules)
        columns = np.concatenate([[group.made], unmade[group.orders], group.changed])
        values = np.concatenate([[1.0], mass[group.orders] / group.mass_lb, filled])
        build.add(columns.astype(np.int32), values, 1.0, 1.0)
    _coupling(build, groups, on_hand_lb, average_lb(orders))
    return AllocationProgram(
        cost=cost,
        rows=build.rows(),
        limits=Limits(np.array(build.lower), np.array(build.upper), np.zeros(width), upper),
        groups=groups,
        unmade=unmade,
    )


def change_per_lb(stocks: Sequence[Stock]) -> float:
    """What changing a pound costs beside its stocks, ``d`` of the module, $/lb."""
    return max((stock.cost_per_lb for stock in stocks), default=0.0) + _CHANGE


def own_lb_per_lb(order: OpenOrder, stocks: Sequence[Stock]) -> Floats:
    """Pounds of each stock in a pound of the order by its own recipe."""
    return np.array([order.recipe.get(stock.code, 0.0) for stock in stocks]) / 100.0


def filled_lb_per_lb(order: OpenOrder, stocks: Sequence[Stock]) -> Floats:
    """What a pound of each stock fills of a pound of the own recipe, ``q_gi`` of the module."""
    if not order.by_volume:
        return np.ones(len(stocks))
    gal_per_lb = np.array([1.0 / stock.density_lb_per_gal for stock in stocks])
    own = own_lb_per_lb(order, stocks)
    return gal_per_lb * float(own.sum() / (own @ gal_per_lb))


def average_lb(orders: Sequence[OpenOrder]) -> float:
    """Size of an average order, the unit of the stock rows."""
    return float(np.mean([order.mass_lb for order in orders]))


def _groups(
    orders: Sequence[OpenOrder], stocks: Sequence[Stock], rules: Sequence[CompatibilityRule]
) -> Iterator[Group]:
    alike: dict[object, list[int]] = defaultdict(list)
    for o, order in enumerate(orders):
        alike[
            tuple(sorted(order.recipe.items())),
            order.may_change and (order.wishes, order.slow_release, order.exclude),
            order.by_volume,
        ].append(o)
    column = len(alike) + len(orders)
    for number, members in enumerate(alike.values()):
        order = orders[members[0]]
        own = own_lb_per_lb(order, stocks)
        usable = np.zeros(0, dtype=np.int32)
        if order.may_change:
            recipe = np.flatnonzero(own > 0).astype(np.int32)
            barred = frozenset(_limited_by_own(own, stocks, rules))
            usable = _usable(recipe, stocks, rules, order.exclude | barred)
        yield Group(
            orders=np.array(members, dtype=np.int32),
            mass_lb=sum(orders[o].mass_lb for o in members),
            own=own,
            made=number,
            usable=usable,
            changed=np.arange(column, column + len(usable), dtype=np.int32),
            filled=filled_lb_per_lb(order, stocks) / (1.0 + SURPLUS * order.by_volume),
        )
        column += len(usable)


def _coupling(build: _Builder, groups: Sequence[Group], on_hand_lb: Floats, unit_lb: float) -> None:
    """One row a stock over all groups, sorted out of one list of (stock, column, amount).

    In units of an average order, so that the solver's tolerance means the same in every row.
    """
    stocks: list[Indices] = []
    columns: list[Indices] = []
    values: list[Floats] = []
    for group in groups:
        used = np.flatnonzero(group.own).astype(np.int32)
        size = group.mass_lb / unit_lb
        stocks += [used, group.usable]
        columns += [np.full(len(used), group.made, dtype=np.int32), group.changed]
        values += [size * group.own[used], np.full(len(group.usable), size)]
    stock, column = np.concatenate(stocks), np.concatenate(columns).astype(np.int32)
    value = np.concatenate(values)
    order = np.argsort(stock, kind="stable")
    ends = np.searchsorted(stock[order], np.arange(len(on_hand_lb) + 1))
    for i, most in enumerate(on_hand_lb / unit_lb):
        mine = order[ends[i] : ends[i + 1]]
        build.add(column[mine], value[mine], -np.inf, float(most))


def _guarantees(
    build: _Scaled,
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


def _limited_by_own(
    own: Floats, stocks: Sequence[Stock], rules: Sequence[CompatibilityRule]
) -> Iterator[str]:
    """Stocks that would bring a limit the own recipe is above as long as they are not in it.

    A recipe half own and half changed would break it, so they do not join.
    """
    for rule in rules:
        if rule.effect is not Effect.LIMIT:
            continue
        is_a = np.array([rule.trait_a in stock.traits for stock in stocks])
        is_b = np.array([rule.trait_b in stock.traits for stock in stocks])
        for stock, joins in zip(stocks, is_b & (own == 0), strict=True):
            if not joins:
                continue
            if rule.largest_ratio is None:
                most = (rule.largest_pct or 0.0) / 100.0
            else:
                most = rule.largest_ratio * own[is_b].sum()
            if own[is_a].sum() > most + _SMALLEST:
                yield stock.code


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
