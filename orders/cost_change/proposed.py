"""The catalogue of a day as it would be at new costs."""

from __future__ import annotations

from dataclasses import replace
from datetime import date
from types import MappingProxyType

from formulas.engine_bridge import Catalogue, cost_as_float, load_catalogue, to_engine
from formulas.models import BaseStock
from orders.models import CostChange


def proposed_catalogue(
    change: CostChange, today: date, *, include_short: bool = False
) -> Catalogue:
    """The catalogue of today with the costs of ``change``, as if they were in force.

    A stock that had no cost is offered as soon as it gets one.
    """
    base = load_catalogue(today, include_short=include_short)
    costs = {cost.stock.code: cost.per_lb() for cost in change.costs.select_related("stock")}
    stocks = {
        stock.code: replace(stock, cost_per_lb=cost_as_float(costs[stock.code]))
        if stock.code in costs
        else stock
        for stock in base.stocks
    }
    left_out = dict(base.left_out)
    for row in (
        BaseStock.objects.active()
        .for_engine_on(today)
        .filter(code__in=costs.keys() - base.cost_per_lb.keys())
    ):
        if include_short or not row.short:
            stocks[row.code] = to_engine(row, costs[row.code])
            left_out.pop(row.code, None)
    return replace(
        base,
        stocks=tuple(stocks[code] for code in sorted(stocks)),
        cost_per_lb=MappingProxyType({**base.cost_per_lb, **costs}),
        left_out=MappingProxyType(left_out),
    )
