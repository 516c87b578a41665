"""What certificates of deliveries say, in the order the deliveries came."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import date
from typing import Final

from django.db.models import F, Window
from django.db.models.functions import RowNumber

from formulas.engine.composition import NITROGEN_FORMS, content_pct
from formulas.models import BaseStock
from orders.models import LotFigure, StockLot
from orders.models.stock import StockLotQuerySet
from orders.tanks.actions.rinsing import RINSE_CODE

#: So many of the newest deliveries stand on a chart.
MOST_LOTS: Final = 100
TOTAL_N: Final = "N"
_COLUMNS: Final = (
    "pk",
    "code",
    "stock_id",
    "supplier",
    "received_on",
    "density_lb_per_gal",
    "density_temp_f",
)


@dataclass(frozen=True, slots=True)
class CertifiedLot:
    """A delivery with what its certificate says: percent by weight, and lb/gal at 60 F."""

    pk: int
    code: str
    stock_id: int
    supplier: str
    received_on: date
    figures: Mapping[str, float]
    density_lb_per_gal: float | None


def newest_of_all() -> list[CertifiedLot]:
    """Of each stock and supplier the newest deliveries, oldest first; three queries."""
    place = Window(
        RowNumber(),
        partition_by=[F("stock_id"), F("supplier")],
        order_by=[F("received_on").desc(), F("pk").desc()],
    )
    return _read(_deliveries().annotate(place=place).filter(place__lte=MOST_LOTS))


def newest_of(stock: BaseStock, supplier: str | None) -> list[CertifiedLot]:
    """The newest deliveries of a stock, of one supplier or (None) of all, oldest first."""
    lots = _deliveries().filter(stock=stock)
    if supplier is not None:
        lots = lots.filter(supplier=supplier)
    return _read(lots.order_by("-received_on", "-pk")[:MOST_LOTS])


def suppliers_of(stock: BaseStock) -> list[str]:
    """Who has delivered the stock, by name; an empty one where none was named."""
    names = _deliveries().filter(stock=stock).order_by("supplier")
    return list(names.values_list("supplier", flat=True).distinct())


def with_total_n(lot: CertifiedLot, typical: Mapping[str, float]) -> dict[str, float]:
    """The certificate's figures, total N among them where it states every form the stock has."""
    forms = [form for form in NITROGEN_FORMS if typical.get(form, 0.0) > 0]
    if not forms or not all(form in lot.figures for form in forms):
        return dict(lot.figures)
    return {TOTAL_N: content_pct(lot.figures, TOTAL_N), **lot.figures}


def _deliveries() -> StockLotQuerySet:
    """Lots as they came: a part moved elsewhere has the same certificate, rinse water none."""
    return StockLot.objects.filter(split_from=None).exclude(stock__code=RINSE_CODE)


def _read(lots: StockLotQuerySet) -> list[CertifiedLot]:
    """Values alone: a row and its stock for each of very many lots take most of the time."""
    rows = list(lots.values_list(*_COLUMNS))
    stocks = BaseStock.objects.prefetch_related("traits").in_bulk({row[2] for row in rows})
    figures: dict[int, dict[str, float]] = {row[0]: {} for row in rows}
    # Asked by the same choice of lots, as very many keys would be too many parameters.
    stated = LotFigure.objects.filter(lot__in=lots.values("pk")).order_by("pk")
    for lot_id, key, pct in stated.values_list("lot_id", "key", "pct"):
        figures[lot_id][key] = pct
    found = [
        CertifiedLot(
            pk=pk,
            code=code,
            stock_id=stock_id,
            supplier=supplier,
            received_on=received_on,
            figures=figures[pk],
            density_lb_per_gal=(
                None if read is None else stocks[stock_id].density_at_60_f(read, at_f)
            ),
        )
        for pk, code, stock_id, supplier, received_on, read, at_f in rows
    ]
    return sorted(found, key=lambda lot: (lot.received_on, lot.pk))
