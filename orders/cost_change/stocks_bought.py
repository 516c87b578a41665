"""What lies in the plant of the stocks whose cost changes, and was bought at what it cost then."""

from __future__ import annotations

from collections import defaultdict
from dataclasses import dataclass
from datetime import date
from decimal import Decimal

from blendshop.money import ZERO, money
from formulas.models import BaseStock
from orders.inventory.levels import open_needs
from orders.models import ChangedCost, CostChange, StockLot


@dataclass(frozen=True, slots=True)
class BoughtStock:
    """One stock of the new costs: pounds on hand, what they cost when they came in, what then.

    ``needed_lb`` is what open orders still take; ``covered_lb`` of it is on hand at the old cost.
    ``paid`` counts each lot at the cost that was in force on the day it came in.
    """

    cost: ChangedCost
    on_hand_lb: Decimal
    lots: int
    paid: Decimal
    at_new_cost: Decimal
    needed_lb: Decimal

    @property
    def covered_lb(self) -> Decimal:
        return min(self.on_hand_lb, self.needed_lb)

    @property
    def to_buy_lb(self) -> Decimal:
        """What open orders take beyond what is there, bought at the new cost."""
        return self.needed_lb - self.covered_lb

    @property
    def spared(self) -> Decimal:
        """What the pounds on hand would cost more if they were bought now."""
        return self.at_new_cost - self.paid


def bought_stocks(change: CostChange, today: date) -> list[BoughtStock]:
    """Each stock of the new costs, those with most money on hand first."""
    costs = list(change.costs.select_related("stock"))
    stocks = {
        row.pk: row
        for row in BaseStock.objects.filter(pk__in=[cost.stock_id for cost in costs])
        .prefetch_related("costs")
    }  # fmt: skip
    lots: dict[int, list[StockLot]] = defaultdict(list)
    for lot in StockLot.objects.usable(today).filter(stock__in=stocks):
        lots[lot.stock_id].append(lot)
    needs = open_needs()
    found = [
        BoughtStock(
            cost=cost,
            on_hand_lb=sum((lot.on_hand_lb for lot in lots[cost.stock_id]), ZERO),
            lots=len(lots[cost.stock_id]),
            paid=money(
                sum((_paid(lot, stocks[cost.stock_id], cost) for lot in lots[cost.stock_id]), ZERO)
            ),
            at_new_cost=money(
                sum((lot.on_hand_lb for lot in lots[cost.stock_id]), ZERO) * cost.per_lb()
            ),
            needed_lb=sum((need.lb for need in needs.get(cost.stock_id, ())), ZERO),
        )
        for cost in costs
    ]
    return sorted(found, key=lambda each: (-abs(each.spared), each.cost.stock.code))


def _paid(lot: StockLot, stock: BaseStock, cost: ChangedCost) -> Decimal:
    entry = stock.cost_on(lot.received_on)
    per_lb = cost.was_per_lb() if entry is None else entry.per_lb()
    return lot.on_hand_lb * (per_lb or ZERO)
