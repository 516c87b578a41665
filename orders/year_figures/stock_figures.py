"""Stocks: for how many days what is on hand lasts, and how their costs moved."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date
from decimal import Decimal
from typing import Any

from django.db.models import Sum
from django.utils.translation import gettext as _

from blendshop.money import ZERO, unit_price
from formulas.models import BaseStock, StockCost
from orders.inventory.levels import stock_levels
from orders.models import Charge, PoundsField
from orders.year_figures.actual_cost import cost_per_lb_on
from orders.year_figures.asked import Asked
from orders.year_figures.period import Period
from orders.year_figures.table import Column, Figure, Kind, Row, Table

_PLACES_KEPT = 12


@dataclass(frozen=True, slots=True)
class CostFrom:
    """A cost that holds from a day on, dollars per pound."""

    day: date
    per_lb: Decimal


def cover_table(asked: Asked, today: date) -> Table:
    """Usable pounds against pounds weighed a day in the period."""
    columns = (
        Column("days", _("Days of cover"), Kind.TENTHS, worst_is_high=False),
        Column("usable", _("Usable, lb"), Kind.WHOLE),
        Column("reserved", _("Open orders take, lb"), Kind.WHOLE),
        Column("used", _("Weighed in the period, lb"), Kind.WHOLE),
        Column("a_day", _("Weighed a day, lb"), Kind.TENTHS),
    )
    used, days = _used(asked.period), asked.period.days_until(today)
    rows = []
    for level in stock_levels(today):
        of_stock = used.get(level.stock.pk, ZERO)
        a_day = of_stock / days
        cells: dict[str, Figure] = {
            "days": level.usable / a_day if a_day else None,
            "usable": level.usable,
            "reserved": level.reserved,
            "used": of_stock,
            "a_day": a_day,
        }
        rows.append(Row(level.stock.code, f"{level.stock.code} {level.stock.name}", cells))
    return Table(
        heading=_("Stock"),
        columns=columns,
        rows=tuple(rows),
        total={},
        counts=_("Pounds weighed into batches"),
        drawn="days",
        sort="days",
        notes=(
            _(
                "Usable is on hand, neither held nor expired, as of now; days of cover is usable"
                " by pounds a calendar day. Next season's use may differ: a screen, no plan."
            ),
        ),
    )


def stock_costs_table(asked: Asked, today: date) -> Table:
    """What each stock cost at both ends of the period, largest rise first."""
    columns = (
        Column("move_pct", _("Change, %"), Kind.PERCENT, worst_is_high=True),
        Column("before", _("Per lb at the beginning"), Kind.UNIT_PRICE),
        Column("after", _("Per lb at the end"), Kind.UNIT_PRICE),
        Column("used", _("Weighed in the period, lb"), Kind.WHOLE),
    )
    used = _used(asked.period)
    end = min(asked.period.last, today)
    stocks = BaseStock.objects.active().filter(costs__isnull=False).distinct().order_by()
    found = stocks.values("pk", "code", "name").annotate(
        first=cost_per_lb_on("pk", asked.period.first), last=cost_per_lb_on("pk", end)
    )
    rows = []
    for stock in found:
        before, after = _decimal(stock["first"]), _decimal(stock["last"])
        cells: dict[str, Figure] = {
            "before": before,
            "after": after,
            "move_pct": 100 * (after - before) / before if before and after is not None else None,
            "used": used.get(stock["pk"], ZERO),
        }
        rows.append(Row(stock["code"], f"{stock['code']} {stock['name']}", cells))
    return Table(
        heading=_("Stock"),
        columns=columns,
        rows=tuple(rows),
        total={},
        counts=_("Costs as entered, on the first and the last day"),
        drawn="move_pct",
        sort="-move_pct",
        notes=(_("Stocks that are in use and have a cost. The end is today at the latest."),),
    )


def cost_line(code: str, period: Period, today: date) -> list[CostFrom]:
    """The costs of a stock in force in the period, oldest first; of a day the newest entry."""
    end = min(period.last, today)
    entries = StockCost.objects.filter(stock__code=code, effective_from__lte=end)
    by_day: dict[date, CostFrom] = {}
    for entry in entries.select_related("stock").order_by("effective_from", "pk"):
        by_day[entry.effective_from] = CostFrom(entry.effective_from, unit_price(entry.per_lb()))
    line = list(by_day.values())
    before = [each for each in line if each.day <= period.first]
    return [*before[-1:], *(each for each in line if each.day > period.first)]


def _used(period: Period) -> dict[int, Decimal]:
    """Pounds weighed of each stock in the period, by its id."""
    charges = Charge.objects.filter(
        reversal__isnull=True, at__gte=period.begin, at__lt=period.end
    ).order_by()
    sums: Any = charges.values_list("stock").annotate(Sum("mass_lb", output_field=PoundsField()))
    return dict(sums)


def _decimal(dollars: float | None) -> Decimal | None:
    return None if dollars is None else round(Decimal(repr(dollars)), _PLACES_KEPT)
