"""The proposal as a list for each supplier: packs, pounds, gallons and what it costs today."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import date
from decimal import Decimal
from typing import Final

from blendshop.money import ZERO, money, unit_price
from formulas.models import StockCost
from orders.buying.proposal import Buying, Proposal

COLUMNS: Final = (
    "supplier", "stock", "name", "order_by", "needed_on", "packs", "pack_lb", "pounds", "gallons",
    "cost_per_lb", "total", "lacking_lb", "lacking_at_least_lb", "lacking_at_most_lb", "price_note",
)  # fmt: skip


@dataclass(frozen=True, slots=True)
class PurchaseLine:
    """One stock to buy. ``total`` is pounds times the cost in force; None without a cost."""

    proposal: Proposal
    cost: StockCost | None

    @property
    def cost_per_lb(self) -> Decimal | None:
        """For reading, to four places; the total is of the unrounded cost."""
        return unit_price(self.cost.per_lb()) if self.cost else None

    @property
    def total(self) -> Decimal | None:
        return money(self.proposal.buy_lb * self.cost.per_lb()) if self.cost else None


@dataclass(frozen=True, slots=True)
class SupplierList:
    """What is bought from one supplier, what is due first in front; no name: none is known."""

    supplier: str
    lines: tuple[PurchaseLine, ...]

    @property
    def lb(self) -> Decimal:
        return sum((line.proposal.buy_lb for line in self.lines), Decimal(0))

    @property
    def total(self) -> Decimal:
        return sum((line.total or ZERO for line in self.lines), ZERO)

    @property
    def has_unknown_cost(self) -> bool:
        return any(line.total is None for line in self.lines)

    @property
    def order_by(self) -> date | None:
        return self.lines[0].proposal.order_by


@dataclass(frozen=True, slots=True)
class PurchaseList:
    """Suppliers by the day the first of their stocks has to be ordered; no supplier last."""

    today: date
    weeks: int
    suppliers: tuple[SupplierList, ...]

    @property
    def total(self) -> Decimal:
        return sum((each.total for each in self.suppliers), ZERO)

    @property
    def has_unknown_cost(self) -> bool:
        return any(each.has_unknown_cost for each in self.suppliers)


def purchase_list(found: Buying) -> PurchaseList:
    """The stocks to buy, each with its supplier."""
    today = found.horizon.today
    by_supplier: dict[str, list[PurchaseLine]] = {}
    for each in found.to_buy:
        name = each.terms.supplier if each.terms else ""
        by_supplier.setdefault(name, []).append(PurchaseLine(each, each.stock.cost_on(today)))
    lists = [SupplierList(name, tuple(lines)) for name, lines in by_supplier.items()]
    return PurchaseList(
        today, found.horizon.weeks, tuple(sorted(lists, key=lambda each: not each.supplier))
    )


def table(purchases: PurchaseList) -> Iterable[tuple[str, ...]]:
    """The rows of the file, under ``COLUMNS``."""
    for supplier in purchases.suppliers:
        for line in supplier.lines:
            buy, terms = line.proposal, line.proposal.terms
            yield (
                supplier.supplier,
                buy.stock.code,
                buy.stock.name,
                buy.order_by.isoformat() if buy.order_by else "",
                buy.needed_on.isoformat() if buy.needed_on else "",
                str(buy.packs) if terms else "",
                plain_pounds(terms.pack_lb) if terms else "",
                plain_pounds(buy.buy_lb),
                f"{buy.buy_gal:.1f}",
                "" if line.cost_per_lb is None else str(line.cost_per_lb),
                "" if line.total is None else str(line.total),
                plain_pounds(buy.short_lb),
                plain_pounds(buy.short_at_least),
                plain_pounds(buy.short_at_most),
                terms.price_note if terms else "",
            )


def plain_pounds(lb: Decimal) -> str:
    """``Decimal("44000.500")`` as ``44000.5``, for a file or a field."""
    text = f"{lb:f}"
    return text.rstrip("0").rstrip(".") if "." in text else text
