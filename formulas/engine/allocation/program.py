"""Many orders and scarce stocks as one sparse program.

Sets: orders o, groups g of orders with one recipe and one set of guarantees, stocks i. Data:
size ``m_o`` (lb by the own recipe), ``M_g`` that of a group, recipe ``r_gi`` (fractions),
contents ``A_ki``, on hand ``h_i`` (lb), cost ``c_i`` ($/lb), penalty ``p_o`` ($ per lb not made),
``q_gi`` what a pound of stock i fills of a pound of the own recipe: 1 where pounds are ordered,
its partial volume in the own recipe over that recipe's volume where gallons are. Variables, all 0
or more, as fractions of the group: ``f_g`` made by the own recipe, ``x_gi`` pounds of stock i in
changed ones (only where the recipe may change); as a fraction of the order: ``z_o`` not made::

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
orders keeps them.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from typing import Final

import numpy as np

from formulas.engine.allocation.orders import (
    OpenOrder,
    average_lb,
    change_per_lb,
    filled_lb_per_lb,
    own_lb_per_lb,
    surplus,
)
from formulas.engine.allocation.recipes import guarantee_rows, usable
from formulas.engine.blend.programs import Floats, Indices, Limits, SparseRows
from formulas.engine.problem import (
    CompatibilityRule,
    Stock,
)

#: The solver drops smaller coefficients; we drop them first, and every plan is checked anyway.
_SMALLEST: Final = 1e-9


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


def allocation_program(
    orders: Sequence[OpenOrder],
    stocks: Sequence[Stock],
    on_hand_lb: Floats,
    rules: Sequence[CompatibilityRule],
) -> AllocationProgram:
    """The arrays of a checked question; see the module for the mathematics."""
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
            for values, low, high in guarantee_rows(orders[group.orders[0]], joined, rules):
                # The tolerance then means the same for an order, however many are in the group.
                build.add(group.changed, len(group.orders) * values, low, high)
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
        joining = np.zeros(0, dtype=np.int32)
        if order.may_change:
            joining = usable(order, stocks, rules)
        yield Group(
            orders=np.array(members, dtype=np.int32),
            mass_lb=sum(orders[o].mass_lb for o in members),
            own=own,
            made=number,
            usable=joining,
            changed=np.arange(column, column + len(joining), dtype=np.int32),
            filled=filled_lb_per_lb(order, stocks) / (1.0 + surplus(order, stocks)),
        )
        column += len(joining)


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
