"""What stocks cost over the year, and the price policy its first quotes were priced by."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from datetime import date, timedelta
from decimal import Decimal

from blendshop.accounts.models import User
from formulas.models import BaseStock, StockCost
from orders.demo import plant
from orders.demo.year import calendar
from orders.demo.year.actions.dated import put_in
from orders.demo.year.costs import LETTERS, MOVED, NOTE
from orders.models import PricePolicy


def letters_of(today: date) -> list[date]:
    """The days on which costs moved, the oldest first."""
    return [today - timedelta(days=days) for days in LETTERS]


def add_costs(office: User, today: date) -> None:
    """A cost of every stock from before the year on, and the moves of eight of them."""
    days = letters_of(today)
    rows = []
    for stock in BaseStock.objects.active().prefetch_related("costs").order_by("code"):
        shipped = stock.cost_on(today)
        if shipped is None:
            continue
        factors = MOVED.get(stock.code, (Decimal(1),))
        rows += [
            StockCost(
                stock=stock,
                effective_from=day,
                amount=round(shipped.amount * factor, 4),
                unit=shipped.unit,
                note=NOTE,
                entered_by=office,
                entered_at=calendar.moment(day - timedelta(days=9), 10 * 60),
            )
            for day, factor in zip(days, factors, strict=False)
        ]
    put_in(StockCost, rows)
    if not PricePolicy.objects.filter(effective_from__lte=days[0]).exists():
        policy = PricePolicy(
            **{
                **plant.POLICY,
                "effective_from": days[0],
                "entered_at": calendar.moment(days[0], 9 * 60),
            }
        )
        put_in(PricePolicy, [policy])


class Costs:
    """Dollars a pound by stock code and day."""

    def __init__(self) -> None:
        rows = StockCost.objects.select_related("stock").order_by("effective_from", "pk")
        self._of: dict[str, list[tuple[date, Decimal]]] = {}
        for row in rows:
            self._of.setdefault(row.stock.code, []).append((row.effective_from, row.per_lb()))

    def of(self, weights: Mapping[str, float], day: date) -> Decimal:
        """What so many pounds of each stock cost on a day, unrounded."""
        together = Decimal(0)
        for code, lb in weights.items():
            together += Decimal(repr(lb)) * self._per_lb(self._of.get(code, ()), day)
        return together

    @staticmethod
    def _per_lb(entries: Sequence[tuple[date, Decimal]], day: date) -> Decimal:
        return next((cost for since, cost in reversed(entries) if since <= day), Decimal(0))
