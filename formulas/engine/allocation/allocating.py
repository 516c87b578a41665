"""Which open orders can be made from what is there, and which recipe change would free stock.

``allocation_program`` states the mathematics, ``allocation_choice`` decides which orders that
take all or nothing are made, ``allocation_sparing`` changes no more recipes than has to be.

A plan is a proposal: a person accepts it or not.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from enum import StrEnum
from typing import Final

import numpy as np

from formulas.engine.allocation.checks import check, refuse
from formulas.engine.allocation.choice import choose
from formulas.engine.allocation.orders import OpenOrder, filled_lb_per_lb, own_lb_per_lb
from formulas.engine.allocation.sparing import spare
from formulas.engine.blend.choices import rule_meets
from formulas.engine.blend.programs import Floats
from formulas.engine.problem import CompatibilityRule, Effect, Stock
from formulas.engine.work import effort
from formulas.engine.work.effort import bounded_by

__all__ = [
    "AllocationPlan",
    "OpenOrder",
    "OrderPlan",
    "OrderVerdict",
    "StockPlan",
    "allocate",
    "penalty_per_lb",
]

#: Parts of an order below this are the solver's noise.
_NOISE: Final = 1e-7
#: Units of work of one plan: 300 orders of 300 recipes and 40 stocks take a fifth of it.
MOST_UNITS: Final = 3 * effort.MOST_UNITS


class OrderVerdict(StrEnum):
    """What the plan does with an order."""

    OWN_RECIPE = "own_recipe"
    CHANGED_RECIPE = "changed_recipe"
    PARTIAL = "partial"
    NOT_NOW = "not_now"


@dataclass(frozen=True, slots=True)
class OrderPlan:
    """One order. ``weights_lb`` is what it takes of each stock, ``made_lb`` all of it.

    ``changed_pct`` is the proposed recipe where it is not the order's own, ``freed_lb`` what that
    takes less of each stock than the own recipe, ``extra_cost`` what it costs more (dollars, less
    if negative), ``jar_tests`` names pairs that meet in it and did not before. ``missing_lb`` is
    what the part not made would need beyond what the plan leaves.
    """

    code: str
    verdict: OrderVerdict
    made_lb: float
    weights_lb: Mapping[str, float]
    changed_pct: Mapping[str, float] | None
    freed_lb: Mapping[str, float]
    extra_cost: float
    jar_tests: tuple[str, ...]
    missing_lb: Mapping[str, float]


@dataclass(frozen=True, slots=True)
class StockPlan:
    """One stock. ``wanted_lb``: all orders in full by their own recipes; ``short_lb`` the lack."""

    code: str
    on_hand_lb: float
    wanted_lb: float
    short_lb: float
    used_lb: float
    left_lb: float


@dataclass(frozen=True, slots=True)
class AllocationPlan:
    """Orders and stocks as asked.

    ``total`` is in dollars, with what waiting costs (penalties) and what changing costs; no plan
    has one below ``bound``, and ``is_exact`` says that this one has the least. Sparing orders a
    change afterwards moves changed pounds about and is not counted in it. ``is_cut_short``: the
    work a plan may take ended it, so that another order might fit in or be spared its change.
    """

    orders: tuple[OrderPlan, ...]
    stocks: tuple[StockPlan, ...]
    total: float
    bound: float
    is_exact: bool
    is_cut_short: bool = False


def penalty_per_lb(dearest_per_lb: float, priority: float, days_until_due: float) -> float:
    """What leaving a pound of an order unmade is worth, $/lb, for ``OpenOrder``.

    Ten times the dearest stock, times the priority (1 is ordinary, 2 twice as pressing), twice
    as much on the due day as long before it, growing further when overdue: our own scale, no
    published source.
    """
    due = 14.0 / (14.0 + days_until_due) if days_until_due >= 0 else 1.0 - days_until_due / 14.0
    return 10.0 * (dearest_per_lb + 0.01) * priority * (1.0 + due)


@bounded_by(MOST_UNITS)
def allocate(
    orders: Sequence[OpenOrder],
    stocks: Sequence[Stock],
    on_hand_lb: Mapping[str, float],
    rules: Sequence[CompatibilityRule] = (),
) -> AllocationPlan:
    """The plan that makes most of what matters from what is there.

    Every stock without an entry in ``on_hand_lb`` is taken as not there. Raises ``BadProblem``
    naming every wrong field, and ``TooLarge`` where not even the program that lets orders be made
    in part is solved within the work a plan may take; what comes after it ends with the plan
    found by then.
    """
    refuse(orders, stocks, on_hand_lb, rules)
    held = np.array([on_hand_lb.get(stock.code, 0.0) for stock in stocks], dtype=float)
    choice = choose(orders, stocks, held, rules)
    use, is_spared = spare(choice.use, orders, stocks, held, rules)
    check(use, orders, stocks, held, rules)
    left = np.maximum(held - use.sum(axis=0), 0.0)
    own = np.array([own_lb_per_lb(order, stocks) for order in orders])
    wanted = np.array([order.mass_lb for order in orders]) @ own
    return AllocationPlan(
        orders=tuple(
            _order_plan(order, lb, left, stocks, rules)
            for order, lb in zip(orders, use, strict=True)
        ),
        stocks=tuple(
            StockPlan(
                code=stock.code,
                on_hand_lb=float(held[i]),
                wanted_lb=float(wanted[i]),
                short_lb=max(0.0, float(wanted[i] - held[i])),
                used_lb=float(use[:, i].sum()),
                left_lb=float(left[i]),
            )
            for i, stock in enumerate(stocks)
        ),
        total=choice.total,
        bound=choice.bound,
        is_exact=choice.is_exact,
        is_cut_short=choice.is_cut_short or not is_spared,
    )


def _order_plan(
    order: OpenOrder,
    lb: Floats,
    left: Floats,
    stocks: Sequence[Stock],
    rules: Sequence[CompatibilityRule],
) -> OrderPlan:
    made, own = float(lb.sum()), own_lb_per_lb(order, stocks)
    share = min(1.0, float(filled_lb_per_lb(order, stocks) @ lb) / order.mass_lb)
    plain = own * (share * order.mass_lb)
    is_changed = bool(np.abs(lb - plain).max() > _NOISE * order.mass_lb)
    missing = own * (order.mass_lb * (1.0 - share)) - left
    if made == 0:
        verdict = OrderVerdict.NOT_NOW
    elif share < 1 - _NOISE:
        verdict = OrderVerdict.PARTIAL
    else:
        verdict = OrderVerdict.CHANGED_RECIPE if is_changed else OrderVerdict.OWN_RECIPE
        missing = np.zeros(len(stocks))
    pct = lb * (100.0 / made) if made > 0 else lb
    price = np.array([stock.cost_per_lb for stock in stocks])
    return OrderPlan(
        code=order.code,
        verdict=verdict,
        made_lb=made,
        weights_lb=_by_code(stocks, lb),
        changed_pct=_by_code(stocks, pct) if is_changed else None,
        freed_lb=_by_code(stocks, plain - lb) if is_changed else {},
        extra_cost=float(price @ (lb - plain)) if is_changed else 0.0,
        jar_tests=tuple(_new_jar_tests(stocks, pct, 100.0 * own, rules)) if is_changed else (),
        missing_lb=_by_code(stocks, missing),
    )


def _new_jar_tests(
    stocks: Sequence[Stock], pct: Floats, own_pct: Floats, rules: Sequence[CompatibilityRule]
) -> Iterator[str]:
    for rule in rules:
        if (
            rule.effect is Effect.JAR_TEST
            and rule_meets(rule, stocks, pct)
            and not rule_meets(rule, stocks, own_pct)
        ):
            yield f"{rule.words_a} meets {rule.words_b}: {rule.reason}"


def _by_code(stocks: Sequence[Stock], values: Floats) -> dict[str, float]:
    """What is above noise, by code."""
    return {
        stock.code: float(value)
        for stock, value in zip(stocks, values, strict=True)
        if value > 1e-6
    }
