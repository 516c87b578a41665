"""Copies of the shipped stocks with their costs, and the lots they were received in."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterator, Mapping, Sequence
from datetime import date, timedelta
from decimal import Decimal
from typing import Final

from blendshop.accounts.models import User
from formulas.models import AnalysisFigure, BaseStock, Mark, StockCost
from orders.demo.large.kinds import base_code, family_code
from orders.demo.large.size import PlantSize, spread
from orders.demo.large.times import DAYS, at_hour
from orders.models import LotFigure, StockLot, StockMovement, SupplierTerms

AT_ONCE: Final = 2_000
NOTE: Final = "demo figure, invented"
#: Left of a lot in use beyond what batches took, lb.
LEFT_LB: Final = Decimal(20_000)
#: The first supplier brings all lots but every so many.
SUPPLIERS: Final = ("Demo supplier, invented", "Other demo supplier, invented")
_SECOND_SUPPLIER: Final = 6
#: So long before it is taken of a lot is there, and a cost is known before the first lot.
_BEFORE_DAYS: Final = 20


def add_stocks(size: PlantSize) -> int:
    """Copies of the shipped stocks until there are enough; how many families there are then."""
    shipped = list(BaseStock.objects.for_engine())
    copies: list[BaseStock] = []
    figures: list[AnalysisFigure] = []
    family = 1
    while len(shipped) + len(copies) < size.stocks:
        for number, stock in enumerate(shipped[: size.stocks - len(shipped) - len(copies)]):
            copy = BaseStock(
                **{
                    field.name: getattr(stock, field.name)
                    for field in BaseStock._meta.concrete_fields
                    if not field.primary_key
                }
            )
            copy.code = family_code(stock.code, family)
            copy.name = f"{stock.name}, demo source {family}"
            copy.notes = "Demo data: a copy of a shipped stock, from an invented source."
            copies.append(copy)
            figures += [
                AnalysisFigure(
                    stock=copy,
                    key=figure.key,
                    pct=round(figure.pct * (1 - 0.01 * spread(number, family % 4)), 3),
                    source=figure.source,
                    mark=Mark.DEMO.value,
                )
                for figure in stock.analysis_figures.all()
            ]
        family += 1
    BaseStock.objects.bulk_create(copies)
    AnalysisFigure.objects.bulk_create(figures, AT_ONCE)
    traits = {stock.code: [trait.pk for trait in stock.traits.all()] for stock in shipped}
    links = BaseStock.traits.through
    links.objects.bulk_create(
        links(basestock_id=copy.pk, trait_id=pk)
        for copy in copies
        for pk in traits[base_code(copy.code)]
    )
    return len(copies) // len(shipped) + 1


def add_costs(size: PlantSize, loader: User, today: date) -> None:
    """Costs of every stock, around that of the shipped one, as far back as orders go."""
    shipped = {
        stock.code: entry
        for stock in BaseStock.objects.for_engine()
        if (entry := stock.cost_on(today)) is not None
    }
    rows = [
        StockCost(
            stock=stock,
            effective_from=today
            - timedelta(days=nth * (DAYS + 2 * _BEFORE_DAYS) // size.costs_a_stock),
            amount=round(entry.amount * Decimal(f"{0.9 + 0.2 * spread(nth, 1):.3f}"), 4),
            unit=entry.unit,
            note=NOTE,
            entered_by=loader,
        )
        for stock in BaseStock.objects.order_by("code")
        if (entry := shipped.get(base_code(stock.code))) is not None
        for nth in range(size.costs_a_stock, 0, -1)
    ]
    StockCost.objects.bulk_create(rows, AT_ONCE)


class LotBook:
    """Which lot each batch takes of a stock: the oldest first, a new one from time to time.

    Lots are named while batches are thought out and written once it is known what they gave, so
    that every lot holds exactly what its movements leave.
    """

    def __init__(self, stocks: Mapping[str, BaseStock], size: PlantSize, batches: int) -> None:
        self.stocks = stocks
        self.lots_a_stock = size.lots_a_stock
        self.batches = max(1, batches)
        self.taken: dict[str, Decimal] = defaultdict(Decimal)

    def lot_code(self, stock: str, nth: int) -> str:
        return f"LD-{self.stocks[stock].pk:04d}-{nth:02d}"

    def current(self, stock: str, batch: int) -> str:
        """The lot in use when the batch of this running number is made."""
        return self.lot_code(stock, min(self.lots_a_stock - 1, self._nth(batch)))

    def take(self, stock: str, batch: int, mass_lb: Decimal) -> str:
        code = self.current(stock, batch)
        self.taken[code] += mass_lb
        return code

    def _nth(self, batch: int) -> int:
        return batch * self.lots_a_stock // self.batches

    def write(self, office: User, today: date) -> Mapping[str, StockLot]:
        """The lots with what is left in them, each with the movement it was received by."""
        lots = []
        for code, stock in self.stocks.items():
            for nth in range(self.lots_a_stock):
                lot_code = self.lot_code(code, nth)
                left = LEFT_LB if nth == self.lots_a_stock - 1 else Decimal(0)
                received = self.taken[lot_code] + (left or Decimal(nth % 2))
                received = max(received, Decimal(1))
                left = received - self.taken[lot_code]
                lots.append(
                    StockLot(
                        code=lot_code,
                        stock=stock,
                        supplier=SUPPLIERS[nth % _SECOND_SUPPLIER == 0],
                        supplier_lot=f"demo-{code.lower()}-{nth}",
                        received_lb=received,
                        on_hand_lb=left,
                        received_on=self._received_on(nth, today),
                        location="demo tank farm",
                        state=StockLot.State.OK if left else StockLot.State.EXHAUSTED,
                    )
                )
        StockLot.objects.bulk_create(lots, AT_ONCE)
        StockMovement.objects.bulk_create(
            (
                StockMovement(
                    kind=StockMovement.Kind.RECEIVED,
                    lot=lot,
                    mass_lb=lot.received_lb,
                    key=f"large-in-{lot.code}",
                    at=at_hour(lot.received_on, 9),
                    by=office,
                    who=str(office),
                )
                for lot in lots
            ),
            AT_ONCE,
        )
        LotFigure.objects.bulk_create(_certified(lots), AT_ONCE)
        return {lot.code: lot for lot in lots}

    def _received_on(self, nth: int, today: date) -> date:
        """Before the first batch that takes of it."""
        return today - timedelta(
            days=_BEFORE_DAYS + DAYS * (self.lots_a_stock - nth) // self.lots_a_stock
        )


def add_terms() -> None:
    """Both suppliers' terms for every stock; the first is bought from."""
    SupplierTerms.objects.bulk_create(
        (
            SupplierTerms(
                stock=stock,
                supplier=supplier,
                lead_days=7 + 7 * second,
                least_order_lb=Decimal(2_000),
                pack_lb=Decimal(1_000),
                preferred=not second,
                price_note=NOTE,
            )
            for stock in BaseStock.objects.order_by("code")
            for second, supplier in enumerate(SUPPLIERS)
        ),
        AT_ONCE,
    )


def _certified(lots: Sequence[StockLot]) -> Iterator[LotFigure]:
    """Certificates with a little more than the typical figures, so that every label is kept."""
    typical: dict[int, list[tuple[str, float]]] = defaultdict(list)
    for stock, key, pct in AnalysisFigure.objects.values_list("stock", "key", "pct"):
        typical[stock].append((key, pct))
    for number, lot in enumerate(lots):
        for key, pct in typical[lot.stock_id]:
            more = 1 + 0.01 * spread(number, len(key) % 4)
            yield LotFigure(lot=lot, key=key, pct=min(100.0, round(pct * more, 3)), source=NOTE)


def stocks_by_code() -> dict[str, BaseStock]:
    """Every stock, by code."""
    return {row.code: row for row in BaseStock.objects.order_by("code")}
