"""Which open orders can be made from what is there, and which recipe change would free stock.

``allocation_program`` states the mathematics. Which orders that take all or nothing are made is
searched exactly while they are few. Where they are many the relaxed program is rounded: what came
out whole stays, of what came out in part the half that loses least is put off, and the rest is
solved again until nothing is in part. ``bound`` is what no plan can do better than, so the
distance to it is always known.

A plan is a proposal: a person accepts it or not.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from enum import StrEnum
from typing import Final

import numpy as np
from numpy.typing import NDArray

from formulas.engine.allocation_checks import check, refuse
from formulas.engine.allocation_program import (
    AllocationProgram,
    OpenOrder,
    SparseSession,
    allocation_program,
    average_lb,
    own_lb_per_lb,
)
from formulas.engine.choices import rule_meets
from formulas.engine.highs import Floats, Mask, Optimum
from formulas.engine.problem import CompatibilityRule, Effect, Stock

__all__ = [
    "AllocationPlan",
    "OpenOrder",
    "OrderPlan",
    "OrderVerdict",
    "StockPlan",
    "allocate",
    "penalty_per_lb",
]

#: Up to so many all-or-nothing orders the choice among them is searched exactly.
MOST_EXACT: Final = 30
#: After so many rounds everything in part is put off at once.
_PATIENT_ROUNDS: Final = 10
#: Fractions of an order below this are the solver's noise.
_NOISE: Final = 1e-7
#: For all solves of one plan together.
_TIME_LIMIT_S: Final = 60.0


class OrderVerdict(StrEnum):
    """What the plan does with an order."""

    OWN_RECIPE = "own_recipe"
    CHANGED_RECIPE = "changed_recipe"
    PARTIAL = "partial"
    NOT_NOW = "not_now"


@dataclass(frozen=True, slots=True)
class OrderPlan:
    """One order. ``weights_lb`` is what it takes of each stock.

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
    """One stock. ``wanted_lb``: all orders in full by their own recipes; ``short_lb`` the lack.

    ``worth_per_lb`` is what one more pound would save ($/lb, penalties included).
    """

    code: str
    on_hand_lb: float
    wanted_lb: float
    short_lb: float
    used_lb: float
    left_lb: float
    worth_per_lb: float


@dataclass(frozen=True, slots=True)
class AllocationPlan:
    """Orders and stocks as asked. ``total`` (dollars, penalties included) is never below ``bound``.

    ``is_exact``: no plan of these recipes' choices has a smaller total.
    """

    orders: tuple[OrderPlan, ...]
    stocks: tuple[StockPlan, ...]
    total: float
    bound: float
    is_exact: bool


def penalty_per_lb(dearest_per_lb: float, priority: float, days_until_due: float) -> float:
    """What leaving a pound of an order unmade is worth, $/lb, for ``OpenOrder``.

    Ten times the dearest stock, times the priority (1 is ordinary, 2 twice as pressing), twice
    as much on the due day as long before it, growing further when overdue: our own scale, no
    published source.
    """
    due = 14.0 / (14.0 + days_until_due) if days_until_due >= 0 else 1.0 - days_until_due / 14.0
    return 10.0 * (dearest_per_lb + 0.01) * priority * (1.0 + due)


def allocate(
    orders: Sequence[OpenOrder],
    stocks: Sequence[Stock],
    on_hand_lb: Mapping[str, float],
    rules: Sequence[CompatibilityRule] = (),
) -> AllocationPlan:
    """The plan that makes most of what matters from what is there.

    Every stock without an entry in ``on_hand_lb`` is taken as not there. Raises ``BadProblem``
    naming every wrong field.
    """
    refuse(orders, stocks, on_hand_lb, rules)
    held = np.array([on_hand_lb.get(stock.code, 0.0) for stock in stocks], dtype=float)
    program = allocation_program(orders, stocks, held, rules)
    relaxed = SparseSession(program.cost, program.rows, program.limits, time_limit_s=_TIME_LIMIT_S)
    first = relaxed.first()
    whole = np.array([not order.may_be_partial for order in orders])
    if not _in_part(first, program, whole).any():
        best, is_exact = first, True
    elif whole.sum() <= MOST_EXACT:
        best, is_exact = _exact(program, whole), True
    else:
        best, is_exact = _rounded(relaxed, first, program, whole, orders), False
    use = _weights(best.x, program, orders, stocks)
    check(use, orders, stocks, held, rules)
    left = np.maximum(held - use.sum(axis=0), 0.0)
    duals = best.row_dual[-len(stocks) :] / average_lb(orders)
    wanted = sum(
        (own_lb_per_lb(order, stocks) * order.mass_lb for order in orders), np.zeros(len(stocks))
    )
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
                worth_per_lb=max(0.0, -float(duals[i])),
            )
            for i, stock in enumerate(stocks)
        ),
        total=best.objective,
        bound=best.objective if is_exact else min(first.objective, best.objective),
        is_exact=is_exact,
    )


def _in_part(optimum: Optimum, program: AllocationProgram, whole: Mask) -> Mask:
    unmade = optimum.x[program.unmade]
    found: Mask = whole & (unmade > _NOISE) & (unmade < 1.0 - _NOISE)
    return found


def _exact(program: AllocationProgram, whole: Mask) -> Optimum:
    """All or nothing searched exactly, then the rest once more for amounts and worths."""
    integer = np.zeros(len(program.cost), dtype=bool)
    integer[program.unmade[whole]] = True
    chosen = SparseSession(
        program.cost,
        program.rows,
        program.limits,
        integer=integer,
        time_limit_s=_TIME_LIMIT_S,
    ).solved()
    settled = SparseSession(program.cost, program.rows, program.limits, time_limit_s=_TIME_LIMIT_S)
    columns = program.unmade[whole]
    value = np.round(chosen.x[columns])
    settled.fix(columns, value, value)
    return settled.solved()


def _rounded(
    session: SparseSession,
    optimum: Optimum,
    program: AllocationProgram,
    whole: Mask,
    orders: Sequence[OpenOrder],
) -> Optimum:
    """Keep what is whole, put off the half in part that loses least, until nothing is in part."""
    worth = np.array([order.penalty_per_lb * order.mass_lb for order in orders])
    rounds = 0
    while (part := np.flatnonzero(_in_part(optimum, program, whole))).size:
        unmade = optimum.x[program.unmade]
        _settle(session, program, np.flatnonzero(whole & (unmade <= _NOISE)), share=0.0)
        losing = part[np.argsort(worth[part] * (1.0 - unmade[part]), kind="stable")]
        rounds += 1
        most = len(losing) if rounds > _PATIENT_ROUNDS else (len(losing) + 1) // 2
        _settle(session, program, losing[:most], share=1.0)
        optimum = session.solved()
    return optimum


def _settle(
    session: SparseSession, program: AllocationProgram, which: NDArray[np.intp], *, share: float
) -> None:
    """The share of these orders that is not made."""
    value = np.full(len(which), share)
    session.fix(program.unmade[which], value, value)


def _weights(
    x: Floats, program: AllocationProgram, orders: Sequence[OpenOrder], stocks: Sequence[Stock]
) -> Floats:
    """Pounds of each stock in each order, shape (orders, stocks), noise cleared."""
    use = np.zeros((len(orders), len(stocks)))
    for o, order in enumerate(orders):
        made = x[program.made[o]] * own_lb_per_lb(order, stocks)
        if o in program.changed:
            where, columns = program.changed[o]
            made[where] += x[columns]
        made[made < _NOISE] = 0.0
        total = made.sum()
        if total > _NOISE:
            # A whole order is the whole order; a part is what the solver found.
            nearly = total > 1.0 - _NOISE
            use[o] = order.mass_lb * (made / total if nearly else made)
    return use


def _order_plan(
    order: OpenOrder,
    lb: Floats,
    left: Floats,
    stocks: Sequence[Stock],
    rules: Sequence[CompatibilityRule],
) -> OrderPlan:
    made, own = float(lb.sum()), own_lb_per_lb(order, stocks)
    plain = own * made
    is_changed = bool(np.abs(lb - plain).max() > _NOISE * order.mass_lb)
    missing = own * (order.mass_lb - made) - left
    if made == 0:
        verdict = OrderVerdict.NOT_NOW
    elif made < order.mass_lb * (1 - _NOISE):
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
