"""Every stock of every supplier with how it stands, worst first."""

from __future__ import annotations

from collections import defaultdict
from dataclasses import dataclass
from datetime import date

from formulas.engine.control.individuals import FEWEST
from formulas.models import BaseStock
from orders.drift.certificates import CertifiedLot, newest_of_all
from orders.drift.series import Series, Standing, series_of, worst
from orders.drift.weighings import Weighed, newest_weighings
from orders.drift.wording import STANDING_WORDS, told_now


@dataclass(frozen=True, slots=True)
class DriftLine:
    """A stock from one supplier; ``found`` names what is broken now, chart by chart."""

    stock: BaseStock
    supplier: str
    lots: int
    newest_on: date | None
    standing: Standing
    found: tuple[str, ...]

    @property
    def words(self) -> str:
        return str(STANDING_WORDS[self.standing])

    @property
    def is_out(self) -> bool:
        return self.standing is Standing.OUT

    @property
    def is_run(self) -> bool:
        return self.standing is Standing.RUN


def drift_lines() -> list[DriftLine]:
    """A fixed number of queries, however many stocks, suppliers and deliveries there are."""
    lots: dict[tuple[int, str], list[CertifiedLot]] = defaultdict(list)
    for lot in newest_of_all():
        lots[lot.stock_id, lot.supplier].append(lot)
    weighed: dict[tuple[str, str], list[Weighed]] = defaultdict(list)
    for each in newest_weighings():
        if each.supplier is not None:
            weighed[each.stock_code, each.supplier].append(each)
    stocks = {row.code: row for row in BaseStock.objects.prefetch_related("analysis_figures")}
    codes = {row.pk: row.code for row in stocks.values()}
    pairs = {(codes[pk], supplier) for pk, supplier in lots} | {
        pair for pair in weighed if pair[0] in stocks
    }
    lines = [
        _line(stocks[code], supplier, lots[stocks[code].pk, supplier], weighed[code, supplier])
        for code, supplier in pairs
    ]
    return sorted(lines, key=lambda line: (line.standing, line.stock.code, line.supplier))


def _line(
    stock: BaseStock, supplier: str, lots: list[CertifiedLot], weighed: list[Weighed]
) -> DriftLine:
    # Of too few points no chart has limits: most pairs of a large plant, and nothing to work out.
    are_enough = max(len(lots), len(weighed)) >= FEWEST
    series = series_of(lots, weighed, stock.analysis()) if are_enough else []
    return DriftLine(
        stock=stock,
        supplier=supplier,
        lots=len(lots),
        newest_on=lots[-1].received_on if lots else None,
        standing=worst(series),
        found=tuple(_found(each) for each in series if each.broken_now),
    )


def _found(series: Series) -> str:
    return f"{series.name}: {', '.join(told_now(series))}"
