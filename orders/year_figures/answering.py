"""From a question to its table, its picture and where its rows lead."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date, timedelta
from typing import Final

from django.conf import settings
from django.http import QueryDict
from django.urls import reverse
from django.utils.safestring import SafeString
from django.utils.translation import gettext as _

from blendshop.charts import AmountBar, amount_bars, drawing_to_svg
from blendshop.cost_chart import CostPoint, cost_steps_chart
from blendshop.figures.readers import reader
from orders.year_figures.asked import NOBODY, Asked, By, Question, address
from orders.year_figures.line_figures import (
    CostSums,
    cost_sums,
    costs_table,
    margin_table,
    on_time_table,
    volume_table,
)
from orders.year_figures.period import month_of
from orders.year_figures.quote_figures import quotes_table
from orders.year_figures.stock_figures import CostFrom, cover_table, stock_costs_table
from orders.year_figures.table import Row, Table

#: So many bars are read at a glance, also on a phone; the table has all of the page.
MOST_BARS: Final = 10
#: Months follow each other: a year of them is one picture, and two years can still be read.
MOST_MONTHS: Final = 24


@dataclass(frozen=True, slots=True)
class ShownRow:
    """A row as it is read: ``cells`` as column title and words; ``more`` leads to its records."""

    label: str
    more: str
    cells: tuple[tuple[str, str, bool], ...]


def answer(asked: Asked, today: date, costs: CostSums | None = None) -> Table:
    """The table of a question, sorted as asked; ``costs`` are sums that a worker added up."""
    match asked.question:
        case Question.MARGIN:
            table = margin_table(asked)
        case Question.VOLUME:
            table = volume_table(asked)
        case Question.QUOTES:
            table = quotes_table(asked)
        case Question.COSTS:
            table = costs_table(asked, costs or cost_sums(asked))
        case Question.ON_TIME:
            table = on_time_table(asked)
        case Question.COVER:
            table = cover_table(asked, today)
        case Question.STOCK_COSTS:
            table = stock_costs_table(asked, today)
    return table.sorted(asked.sort)


def shown_rows(
    table: Table, rows: Sequence[Row], asked: Asked, query: QueryDict, *, leads_on: bool = True
) -> list[ShownRow]:
    """Rows of a page with their figures written, and their links where they lead on."""
    return [
        ShownRow(
            row.label,
            _more(row, asked, query) if leads_on else "",
            tuple(
                (column.title, column.written(row.cells[column.key]), column.is_number)
                for column in table.columns
            ),
        )
        for row in rows
    ]


def _more(row: Row, asked: Asked, query: QueryDict) -> str:
    """Where a row leads: to the orders or quotes it counts, and from one of those to its page."""
    if asked.question == Question.COVER:
        return reverse("stock_detail", args=[row.key])
    if asked.question == Question.STOCK_COSTS:
        return address(query, stock=row.key)
    if asked.by == By.RECORD:
        page = "quote_detail" if asked.question == Question.QUOTES else "order_detail"
        return reverse(page, args=[row.label])
    if asked.by == By.MONTH and isinstance(row.key, date):
        month = month_of(row.key)
        first, last = max(month.first, asked.period.first), min(month.last, asked.period.last)
        return address(query, by=By.RECORD.value, sort=None, period="days", first=first, last=last)
    key = NOBODY if row.key is None else row.key
    return address(query, by=By.RECORD.value, sort=None, **{asked.by.value: key})


def bars_of(table: Table, rows: Sequence[Row]) -> SafeString:
    """The first rows of a page as bars of the column they are sorted by; empty without any."""
    column = table.drawn_column
    bars = []
    are_months = rows and isinstance(rows[0].key, date)
    for row in rows[: MOST_MONTHS if are_months else MOST_BARS]:
        value = row.cells[column.key]
        if value is not None and not isinstance(value, str | date):
            bars.append(AmountBar(row.label, column.written(value), float(value)))
    if not bars:
        return SafeString("")
    words = "; ".join(f"{bar.name}: {bar.figure}" for bar in bars)
    return drawing_to_svg(amount_bars(bars), column.title, words, "figures-bars")


def cost_picture(name: str, line: Sequence[CostFrom], asked: Asked, today: date) -> SafeString:
    """What a stock cost over the period, as steps; empty without a cost."""
    end = min(asked.period.last, today)
    points = [CostPoint(max(each.day, asked.period.first), each.per_lb) for each in line]
    if not points or points[0].day > end:
        return SafeString("")
    drawing = cost_steps_chart(points, max(end, points[-1].day + timedelta(days=1)))
    words = "; ".join(
        f"{reader().date(point.day)}: {reader().unit_price(point.per_lb, settings.CURRENCY)}"
        for point in points
    )
    return drawing_to_svg(drawing, _("{stock}, cost per lb").format(stock=name), words, "cost-line")
