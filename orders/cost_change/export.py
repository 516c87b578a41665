"""The lists of the page as tables, whole."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from datetime import date
from decimal import Decimal
from typing import Final

from blendshop.money import money
from orders.cost_change.page import (
    all_blend_rows,
    days_left,
    named_blends,
    open_orders,
    open_quotes,
)
from orders.models import CostImpact
from orders.models.cost_change import HeldAtNewCosts

_MARGINS: Final = (
    "margin_when_quoted",
    "margin_at_new_costs",
    "lost",
    "margin_pct_when_quoted",
    "margin_pct_at_new_costs",
    "floor_pct",
    "below_floor",
    "problem",
)
#: Revisions read at a time.
_CHUNK: Final = 2_000
Rows = Iterator[Sequence[str]]


def _quotes(impact: CostImpact, today: date) -> Rows:
    rows = open_quotes(impact, today).select_related("quote__company").order_by("-lost", "quote")
    for row in rows.iterator():
        quote = row.quote
        left = days_left(quote, today)
        yield (
            quote.number,
            str(quote.company),
            str(quote.get_status_display()),
            quote.at_costs_of.isoformat() if quote.at_costs_of else "",
            "" if left is None else str(left),
            str(quote.total),
            *_margins(row),
        )


def _orders(impact: CostImpact, today: date) -> Rows:
    rows = open_orders(impact).select_related("order__company", "order__quote")
    for row in rows.order_by("-lost", "order").iterator():
        order = row.order
        yield (
            order.number,
            str(order.company),
            str(order.get_status_display()),
            order.at_costs_of.isoformat(),
            order.due_on.isoformat(),
            str(order.total),
            *_margins(row),
        )


def _blends(impact: CostImpact, today: date) -> Rows:
    rows = all_blend_rows(impact)
    for place in range(0, len(rows), _CHUNK):
        for named in named_blends(rows[place : place + _CHUNK]):
            row, revision = named.row, named.revision
            yield (
                revision.blend.name,
                str(revision.blend.company or ""),
                str(revision.number),
                revision.grade,
                _text(row.before_per_gal),
                _text(row.after_per_gal),
                _text(row.rise_per_gal),
                f"{row.gal:.1f}",
                str(row.at_stake),
            )


#: By the list's name: its columns and what makes its rows.
TABLES: Final[dict[str, tuple[tuple[str, ...], Callable[[CostImpact, date], Rows]]]] = {
    "quotes": (
        ("quote", "customer", "state", "at_costs_of", "days_left", "total", *_MARGINS),
        _quotes,
    ),
    "orders": (
        ("order", "customer", "state", "at_costs_of", "due_on", "total", *_MARGINS),
        _orders,
    ),
    "blends": (
        (
            "blend",
            "customer",
            "revision",
            "grade",
            "cost_per_gal_before",
            "cost_per_gal_at_new_costs",
            "rise_per_gal",
            "gal_open",
            "at_stake",
        ),
        _blends,
    ),
}


def table_length(impact: CostImpact, table: str, today: date) -> int:
    """How many rows the table has."""
    if table == "blends":
        return impact.blend_count
    return (open_quotes(impact, today) if table == "quotes" else open_orders(impact)).count()


def _margins(row: HeldAtNewCosts) -> tuple[str, ...]:
    if row.problem:
        return ("", "", "", "", "", "", "", row.problem)
    return (
        str(money(row.margin_then)),
        str(money(row.margin_now)),
        str(money(row.lost)),
        _text(row.margin_pct_then),
        _text(row.margin_pct_now),
        _text(row.floor_pct),
        "yes" if row.is_below_floor else "no",
        "",
    )


def _text(value: Decimal | None) -> str:
    return "" if value is None else str(value)
