"""Refuse a wrong question of an allocation, and check its answer before anybody sees it."""

from __future__ import annotations

import math
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import replace

from formulas.engine.allocation.orders import (
    OpenOrder,
    average_lb,
    change_per_lb,
    filled_lb_per_lb,
    own_lb_per_lb,
    surplus,
)
from formulas.engine.blend.programs import Floats
from formulas.engine.blend.stock_table import content_table
from formulas.engine.blend.verify import verify
from formulas.engine.problem import (
    BadProblem,
    BlendProblem,
    CompatibilityRule,
    FieldError,
    Fill,
    Stock,
)
from formulas.engine.result import EngineFailure
from formulas.engine.validate import SUM_TOLERANCE_PCT, rule_errors, stock_errors, wish_errors


def check(
    use: Floats,
    orders: Sequence[OpenOrder],
    stocks: Sequence[Stock],
    held: Floats,
    rules: Sequence[CompatibilityRule],
) -> None:
    """Never more than is there, never more than was ordered, every guarantee kept."""
    if (use < 0).any() or (use.sum(axis=0) > held + 1e-6 * average_lb(orders)).any():
        raise EngineFailure("The plan uses more of a stock than there is.")
    table, free = content_table(stocks), _without_minima(stocks)
    for order, lb in zip(orders, use, strict=True):
        total = float(lb.sum())
        if filled_lb_per_lb(order, stocks) @ lb > order.mass_lb * (
            1 + surplus(order, stocks) + 1e-9
        ):
            raise EngineFailure(f"The plan makes more than {order.code} asks for.")
        if total > 0 and order.may_change:
            verify(_guarantees_of(order, free, rules), table, lb * (100.0 / total))


def _without_minima(stocks: Sequence[Stock]) -> tuple[Stock, ...]:
    """A stock's own minimum share speaks of new recipes, not of orders taken long ago."""
    return tuple(replace(stock, min_pct=0.0) for stock in stocks)


def _guarantees_of(
    order: OpenOrder, stocks: tuple[Stock, ...], rules: Sequence[CompatibilityRule]
) -> BlendProblem:
    return BlendProblem(
        stocks=stocks,
        wishes=order.wishes,
        slow_release=order.slow_release,
        rules=tuple(rules),
        fill=Fill(mass_lb=order.mass_lb),
    )


def refuse(
    orders: Sequence[OpenOrder],
    stocks: Sequence[Stock],
    on_hand_lb: Mapping[str, float],
    rules: Sequence[CompatibilityRule],
) -> None:
    errors: list[FieldError] = [*stock_errors(stocks), *rule_errors(rules)]
    codes = {stock.code for stock in stocks}
    for code, lb in on_hand_lb.items():
        if code not in codes:
            errors.append(FieldError(f"on_hand_lb.{code}", f"There is no stock {code}."))
        if not (math.isfinite(lb) and lb >= 0):
            errors.append(FieldError(f"on_hand_lb.{code}", "Must be a number, 0 or more."))
    if not orders:
        errors.append(FieldError("orders", "At least one order is needed."))
    for index, order in enumerate(orders):
        errors += _order_errors(f"orders.{index}", order, codes, stocks)
    if errors:
        raise BadProblem(tuple(errors))
    table, free = content_table(stocks), _without_minima(stocks)
    for index, order in enumerate(orders):
        if order.may_change:
            problem = _guarantees_of(order, free, rules)
            _refuse_recipe(f"orders.{index}.recipe", problem, table, own_lb_per_lb(order, stocks))


def _order_errors(
    path: str, order: OpenOrder, codes: set[str], stocks: Sequence[Stock]
) -> Iterator[FieldError]:
    if not (math.isfinite(order.mass_lb) and order.mass_lb > 0):
        yield FieldError(f"{path}.mass_lb", "Must be a number above 0.")
    if not (math.isfinite(order.penalty_per_lb) and order.penalty_per_lb > _dearest(order, stocks)):
        message = "Must be more than twice the dearest stock, or leaving the order would pay."
        yield FieldError(f"{path}.penalty_per_lb", message)
    for code, pct in order.recipe.items():
        if code not in codes:
            yield FieldError(f"{path}.recipe.{code}", f"There is no stock {code}.")
        if not (math.isfinite(pct) and 0 <= pct <= 100):
            yield FieldError(f"{path}.recipe.{code}", "Must be from 0 to 100 percent.")
    if not abs(sum(order.recipe.values()) - 100.0) <= SUM_TOLERANCE_PCT:
        yield FieldError(f"{path}.recipe", "The shares must add up to 100 percent.")


def _dearest(order: OpenOrder, stocks: Sequence[Stock]) -> float:
    """More than a pound of the order can cost when it is changed, $."""
    dearest = max((stock.cost_per_lb for stock in stocks), default=0.0)
    heaviest = 1.0
    if order.by_volume and stocks:
        filled = filled_lb_per_lb(order, stocks)
        heaviest = float(filled.max() / filled.min())
    return heaviest * dearest + change_per_lb(stocks)


def _refuse_recipe(path: str, problem: BlendProblem, table: Floats, own: Floats) -> None:
    """An order whose recipe may change must keep its own guarantees and rules to begin with."""
    if errors := tuple(wish_errors(problem.wishes, problem.slow_release)):
        raise BadProblem(errors)
    try:
        verify(problem, table, own * (100.0 / own.sum()))
    except EngineFailure as miss:
        message = f"The order's own recipe does not keep its guarantees: {miss}"
        raise BadProblem((FieldError(path, message),)) from miss
