"""The current catalogue as a table: every figure with its source, costs in force and to come."""

from __future__ import annotations

from collections.abc import Iterator
from datetime import date

from formulas.models import BaseStock
from formulas.stocks.table.fields import ANALYSIS, COST, FIELDS, METAL, TRAITS, in_text
from formulas.stocks.table.table import Line, write_lines

#: Two lines that show how the table is written, for an empty catalogue.
_EXAMPLE = (
    Line(0, "STOCK1", "name", "Name of the stock", "", "", "", ""),
    Line(0, "STOCK1", "density_lb_per_gal", "10.5", "lb/gal", "supplier's sheet", "supplier", ""),
    Line(0, "STOCK1", "analysis.N.urea", "20", "%", "supplier's sheet", "supplier", ""),
    Line(0, "STOCK1", "cost", "318.00", "ton", "", "", "2026-01-01"),
)


def export_catalogue(today: date, *, costs_only: bool = False) -> str:
    """CSV text that, uploaded again, changes nothing; an example if there are no stocks yet.

    With ``costs_only`` what each stock costs and will cost.
    """
    stocks = BaseStock.objects.for_engine().with_metals()
    of_stock = cost_lines if costs_only else stock_lines
    lines = [line for stock in stocks for line in of_stock(stock, today)]
    return write_lines(lines or (_EXAMPLE[-1:] if costs_only else _EXAMPLE))


def stock_lines(stock: BaseStock, today: date) -> Iterator[Line]:
    """A stock (figures, metals, traits and costs prefetched) as lines of the table."""

    def line(
        field: str, value: str, unit: str = "", source: str = "", mark: str = "", day: str = ""
    ) -> Line:
        return Line(0, stock.code, field, value, unit, in_text(source), mark, day)

    for field in FIELDS.values():
        value = in_text(getattr(stock, field.name))
        source = getattr(stock, field.source) if field.source and value else ""
        mark = getattr(stock, field.mark) if field.mark and value else ""
        yield line(field.name, value, field.unit, source, mark)
    yield line(TRAITS, " ".join(sorted(trait.code for trait in stock.traits.all())))
    for figure in stock.analysis_figures.all():
        key = f"{ANALYSIS}{figure.key}"
        yield line(key, in_text(figure.pct), "%", figure.source, figure.mark)
    for metal in stock.metal_figures.all():
        day = metal.measured_on.isoformat() if metal.measured_on else ""
        key = f"{METAL}{metal.metal}"
        yield line(key, in_text(metal.ppm), "ppm", metal.source, metal.mark, day)
    yield from cost_lines(stock, today)


def cost_lines(stock: BaseStock, today: date) -> Iterator[Line]:
    """The cost in force and those to come; ``costs`` prefetched."""
    in_force = stock.cost_on(today)
    for cost in sorted(stock.costs.all(), key=lambda c: (c.effective_from, c.pk)):
        if cost.effective_from > today or cost == in_force:
            amount, day = f"{cost.amount.normalize():f}", cost.effective_from.isoformat()
            yield Line(0, stock.code, COST, amount, cost.unit, in_text(cost.note), "", day)
