"""Margin, volume, actual cost and due dates: figures of order lines."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from datetime import timedelta
from decimal import Decimal
from typing import Any, Final

from django.db.models import Count, Expression, F, FloatField, Q, Sum
from django.db.models.functions import Cast, TruncDate
from django.utils.translation import gettext as _

from blendshop.money import ZERO
from formulas.models import BaseStock
from orders.models import Charge
from orders.year_figures.actual_cost import actual_cents, made_share
from orders.year_figures.asked import Asked, By, Counted, Question
from orders.year_figures.group_rows import MANY, GroupRows, ordering, ratio
from orders.year_figures.order_lines import grouped, key_of, label_of, order_lines
from orders.year_figures.table import (
    Column,
    Figure,
    Kind,
    Row,
    Table,
    per_gal,
    share_pct,
    short_tons,
)

#: So much later than its day is more than a week late.
_A_WEEK: Final = timedelta(days=7)
Sums = Mapping[str, Any]
Cells = Callable[[Sums], dict[str, Figure]]

_USUAL: Final[Sums] = {
    "orders": Count("order", distinct=True),
    "gal": Sum("volume_gal"),
    "lb": Sum("mass_lb"),
    "price": Sum("line_total"),
    "quoted": Sum("material"),
    "margin": Sum("earned"),
}


def margin_table(asked: Asked) -> Table:
    """What was earned by the frozen prices: dollars, percent of the price, dollars a gallon."""
    columns = (
        Column("margin_pct", _("Margin, % of price"), Kind.PERCENT, worst_is_high=False),
        Column("margin", _("Margin"), Kind.MONEY, worst_is_high=False),
        Column("margin_per_gal", _("Margin per gal"), Kind.UNIT_PRICE, worst_is_high=False),
        Column("price", _("Price"), Kind.MONEY),
        Column("gal", _("gal"), Kind.WHOLE),
        Column("orders", _("Orders"), Kind.WHOLE),
    )
    notes = (
        _(
            "Margin and price as they were quoted, after discount and freight below its tariff,"
            " without deposits; percent of the price, whatever kind the customer's policy has."
        ),
    )
    return _table(asked, columns, _USUAL, _margin_cells, "margin_pct", "margin_pct", notes)


def volume_table(asked: Asked) -> Table:
    """Gallons and tons."""
    columns = (
        Column("gal", _("gal"), Kind.WHOLE),
        Column("tons", _("Tons of 2,000 lb"), Kind.TONS),
        Column("price", _("Price"), Kind.MONEY),
        Column("orders", _("Orders"), Kind.WHOLE),
    )
    notes = (
        _(
            "Gallons and net weight as ordered. What a state is owed goes by what was weighed:"
            " see Tonnage."
        ),
    )
    return _table(asked, columns, _USUAL, _volume_cells, "-gal", "gal", notes)


@dataclass(frozen=True, slots=True)
class CostSums:
    """The sums of each group and of all; ``of`` and ``called`` are what a row is grouped by."""

    rows: tuple[Mapping[str, Any], ...]
    total: Mapping[str, Any]


def cost_sums(asked: Asked) -> CostSums:
    """Every line's material as weighed: of very many orders the long part of the answer."""
    sums = {
        **_USUAL,
        "actual_cents": Sum(actual_cents()),
        "made_gal": Sum(made_share() * Cast("volume_gal", FloatField())),
    }
    lines = order_lines(asked)
    rows = list(grouped(lines, asked.by).annotate(**sums))
    return CostSums(tuple(rows), _total(lines, sums, rows))


def counted_orders(asked: Asked) -> int:
    """How many orders an answer is of."""
    return order_lines(asked).values("order").distinct().count()


def costs_table(asked: Asked, sums: CostSums) -> Table:
    """Material as quoted against what was weighed, at what each lot cost when it came in."""
    columns = (
        Column("over", _("Over the quoted cost"), Kind.MONEY, worst_is_high=True),
        Column("over_pct", _("Over, %"), Kind.PERCENT, worst_is_high=True),
        Column("quoted", _("Material quoted"), Kind.MONEY),
        Column("actual", _("Material as weighed"), Kind.MONEY),
        Column("margin_left", _("Margin left"), Kind.MONEY, worst_is_high=False),
        Column("made_pct", _("Weighed, % of gal"), Kind.PERCENT),
    )
    free = _without_cost()
    notes = (
        _(
            "Each weight at the cost of the day its lot came in, without one of the day it was"
            " weighed; what is not made or was never written down counts as quoted."
        ),
        *((_("Counted as free, as no cost was ever written down: {stocks}.").format(
            stocks=", ".join(free)),) if free else ()),
    )  # fmt: skip
    return Table(
        heading=_heading(asked),
        columns=columns,
        rows=tuple(_row(asked, row, _cost_cells) for row in sums.rows),
        total=_cost_cells(sums.total),
        counts=_counts(asked),
        drawn="over",
        sort="label" if asked.by == By.MONTH else "-over",
        notes=notes,
    )


def on_time_table(asked: Asked) -> Table:
    """Orders that left by the day they were due."""
    columns = (
        Column("on_time_pct", _("On time, %"), Kind.PERCENT, worst_is_high=False),
        Column("late", _("Late"), Kind.WHOLE, worst_is_high=True),
        Column("week_late", _("More than a week late"), Kind.WHOLE, worst_is_high=True),
        Column("on_time", _("On time"), Kind.WHOLE),
        Column("orders", _("Shipped"), Kind.WHOLE),
    )
    due = F("order__due_on")
    sums = {
        "orders": Count("order", distinct=True),
        "on_time": _orders(Q(left_on__lte=due)),
        "week_late": _orders(Q(left_on__gt=due + _A_WEEK)),
    }
    notes = (
        _("On time is shipped by the due date that stands on the order; a day later is late."),
    )
    return _table(asked, columns, sums, _on_time_cells, "on_time_pct", "on_time_pct", notes)


def _table(
    asked: Asked,
    columns: tuple[Column, ...],
    sums: Sums,
    cells: Cells,
    sort: str,
    drawn: str,
    notes: tuple[str, ...],
) -> Table:
    lines = order_lines(asked)
    if asked.question == Question.ON_TIME:
        lines = lines.annotate(left_on=TruncDate("at"))
    groups = grouped(lines, asked.by)
    found = groups.annotate(**sums)

    def in_order(wanted: str) -> GroupRows:
        sorted_groups = found.order_by(*ordering(wanted, _VALUES))
        return GroupRows(
            sorted_groups, groups.values("of").distinct(), lambda row: _row(asked, row, cells)
        )

    are_many = asked.by in MANY
    read = [] if are_many else list(found)
    return Table(
        heading=_heading(asked),
        columns=columns,
        rows=tuple(_row(asked, row, cells) for row in read),
        total=cells(_sums_of_all(lines, sums) if are_many else _total(lines, sums, read)),
        counts=_counts(asked),
        drawn=drawn,
        sort="label" if asked.by == By.MONTH else sort,
        notes=notes,
        in_order=in_order if are_many else None,
    )


def _row(asked: Asked, sums: Mapping[str, Any], cells: Cells) -> Row:
    return Row(key_of(sums), label_of(sums, asked.by), cells(sums))


def _heading(asked: Asked) -> str:
    return _("Order") if asked.by == By.RECORD else str(asked.by.label)


def _total(lines: Any, sums: Sums, rows: Sequence[Sums]) -> dict[str, Any]:
    """Added up over the groups; an order of two blends is in two of them and one order here."""
    counted = {name: each for name, each in sums.items() if isinstance(each, Count)}
    found = _sums_of_all(lines, counted)
    for name in sums.keys() - found.keys():
        found[name] = sum((row[name] for row in rows), _ZEROS.get(name, 0.0))
    return found


def _sums_of_all(lines: Any, sums: Sums) -> dict[str, Any]:
    found: dict[str, Any] = lines.aggregate(**sums)
    return {
        name: _ZEROS.get(name, 0.0) if value is None else value for name, value in found.items()
    }


_ZEROS: Final = {"price": ZERO, "quoted": ZERO, "margin": ZERO}
#: What the database sorts a column by, of the sums of a group.
_VALUES: Final[Mapping[str, Expression | F]] = {
    **{name: F(name) for name in ("margin", "price", "gal", "orders", "on_time", "week_late")},
    "margin_pct": ratio("margin", "price"),
    "margin_per_gal": ratio("margin", "gal"),
    "tons": F("lb"),
    "late": F("orders") - F("on_time"),
    "on_time_pct": ratio("on_time", "orders"),
}


def _margin_cells(sums: Mapping[str, Any]) -> dict[str, Figure]:
    return {
        "margin": sums["margin"],
        "margin_pct": share_pct(sums["margin"], sums["price"]),
        "margin_per_gal": per_gal(sums["margin"], sums["gal"]),
        "price": sums["price"],
        "gal": sums["gal"],
        "orders": sums["orders"],
    }


def _volume_cells(sums: Mapping[str, Any]) -> dict[str, Figure]:
    return {
        "gal": sums["gal"],
        "tons": short_tons(sums["lb"]),
        "price": sums["price"],
        "orders": sums["orders"],
    }


def _cost_cells(sums: Mapping[str, Any]) -> dict[str, Figure]:
    actual = Decimal(round(sums["actual_cents"])) / 100
    over = actual - sums["quoted"]
    return {
        "quoted": sums["quoted"],
        "actual": actual,
        "over": over,
        "over_pct": share_pct(over, sums["quoted"]),
        "margin_left": sums["margin"] - over,
        "made_pct": share_pct(sums["made_gal"], sums["gal"]),
    }


def _on_time_cells(sums: Mapping[str, Any]) -> dict[str, Figure]:
    return {
        "orders": sums["orders"],
        "on_time": sums["on_time"],
        "late": sums["orders"] - sums["on_time"],
        "week_late": sums["week_late"],
        "on_time_pct": share_pct(float(sums["on_time"]), float(sums["orders"])),
    }


def _orders(which: Q) -> Count:
    return Count("order", distinct=True, filter=which)


def _without_cost() -> list[str]:
    """Names of stocks that were weighed in and never had a cost."""
    weighed = Charge.objects.filter(reversal__isnull=True).values("stock")
    stocks = BaseStock.objects.filter(costs__isnull=True, pk__in=weighed)
    return list(stocks.order_by("name").values_list("name", flat=True))


def _counts(asked: Asked) -> str:
    if asked.counted == Counted.SHIPPED:
        return _("Orders shipped")
    return _("Orders placed, shipped or not; without requests and what was cancelled")
