"""The proposal as a list for each supplier: packs, pounds, gallons and what it costs today."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import date
from decimal import Decimal
from typing import Final

from blendshop.money import ZERO, money, unit_price
from formulas.models import StockCost
from orders.buying.in_parts import Part
from orders.buying.proposal import Buying, Proposal
from orders.models import StockPurchase, SupplierTerms

COLUMNS: Final = (
    "supplier", "stock", "name", "order_by", "needed_on", "packs", "pack_lb", "pounds", "gallons",
    "cost_per_lb", "total", "lacking_lb", "lacking_at_least_lb", "lacking_at_most_lb", "price_note",
    "purchase", "of_purchases", "on_the_way_lb", "storage_lb", "planned_not_reserved_lb",
)  # fmt: skip


@dataclass(frozen=True, slots=True)
class PurchaseLine:
    """One purchase of a stock, ``number`` of all of it. ``total`` is pounds times the cost in
    force; None without a cost."""

    proposal: Proposal
    part: Part
    number: int
    cost: StockCost | None

    @property
    def order_by(self) -> date:
        return self.proposal.order_part_by(self.part)

    @property
    def is_due(self) -> bool:
        return self.order_by <= self.proposal.horizon.today

    @property
    def days_late(self) -> int:
        return max(0, (self.proposal.horizon.today - self.order_by).days)

    @property
    def terms(self) -> SupplierTerms | None:
        return self.proposal.terms

    @property
    def gal(self) -> float:
        return self.proposal.gal_of(self.part.lb)

    @property
    def of_parts(self) -> int:
        return len(self.proposal.parts)

    @property
    def cost_per_lb(self) -> Decimal | None:
        """For reading, to four places; the total is of the unrounded cost."""
        return unit_price(self.cost.per_lb()) if self.cost else None

    @property
    def total(self) -> Decimal | None:
        return money(self.part.lb * self.cost.per_lb()) if self.cost else None


@dataclass(frozen=True, slots=True)
class SupplierList:
    """What is bought from one supplier, what is due first in front; no name: none is known."""

    supplier: str
    lines: tuple[PurchaseLine, ...]

    @property
    def lb(self) -> Decimal:
        return sum((line.part.lb for line in self.lines), Decimal(0))

    @property
    def total(self) -> Decimal:
        return sum((line.total or ZERO for line in self.lines), ZERO)

    @property
    def has_unknown_cost(self) -> bool:
        return any(line.total is None for line in self.lines)

    @property
    def order_by(self) -> date:
        return self.lines[0].order_by


@dataclass(frozen=True, slots=True)
class PurchaseList:
    """Suppliers by the day the first of their stocks has to be ordered; no supplier last."""

    today: date
    weeks: int
    suppliers: tuple[SupplierList, ...]
    on_the_way: tuple[StockPurchase, ...]

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
        cost = each.stock.cost_on(today)
        by_supplier.setdefault(name, []).extend(
            PurchaseLine(each, part, number, cost)
            for number, part in enumerate(each.parts, start=1)
        )
    lists = [
        SupplierList(name, tuple(sorted(lines, key=lambda line: line.order_by)))
        for name, lines in by_supplier.items()
    ]
    return PurchaseList(
        today,
        found.horizon.weeks,
        tuple(sorted(lists, key=lambda each: (not each.supplier, each.order_by))),
        found.on_the_way,
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
                line.order_by.isoformat(),
                line.part.needed_on.isoformat(),
                str(line.part.packs) if terms else "",
                plain_pounds(terms.pack_lb) if terms else "",
                plain_pounds(line.part.lb),
                f"{line.gal:.1f}",
                "" if line.cost_per_lb is None else str(line.cost_per_lb),
                "" if line.total is None else str(line.total),
                plain_pounds(buy.short_lb),
                plain_pounds(buy.short_at_least),
                plain_pounds(buy.short_at_most),
                terms.price_note if terms else "",
                str(line.number),
                str(line.of_parts),
                plain_pounds(buy.on_the_way_lb),
                "" if buy.storage_lb is None else plain_pounds(buy.storage_lb),
                plain_pounds(buy.planned),
            )


def plain_pounds(lb: Decimal) -> str:
    """``Decimal("44000.500")`` as ``44000.5``, for a file or a field."""
    text = f"{lb:f}"
    return text.rstrip("0").rstrip(".") if "." in text else text
