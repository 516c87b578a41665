"""The page of figures and its file."""

from typing import Any, Final

from django.core.paginator import Paginator
from django.http import HttpRequest, HttpResponse
from django.shortcuts import render
from django.utils import timezone
from django.views.decorators.http import require_safe

from blendshop.accounts.models import User
from blendshop.accounts.signed_in import signed_in
from blendshop.csv_download import csv_response
from blendshop.roles import Role, has_role, role_required
from orders.year_figures.answering import answer, bars_of, cost_picture, shown_rows
from orders.year_figures.asked import (
    Asked,
    AskedForm,
    By,
    Counted,
    Question,
    address,
    questions_of,
    read_asked,
)
from orders.year_figures.narrowed import narrowings
from orders.year_figures.period import PeriodName
from orders.year_figures.quote_figures import reasons_table
from orders.year_figures.stock_figures import cost_line
from orders.year_figures.table import Table

#: Office and formulator see all, a rep its own; what a figure shows is no business of others.
READERS: Final = (Role.OFFICE, Role.FORMULATOR, Role.REP)
ROWS_A_PAGE: Final = 25
MOST_REASONS: Final = 15
_OPENS_CUSTOMERS: Final = (Role.REP, Role.OFFICE)


@role_required(*READERS)
@require_safe
def year_figures(request: HttpRequest) -> HttpResponse:
    """One question over a period, grouped and sorted as the address says."""
    user, today = signed_in(request), timezone.localdate()
    form = AskedForm(request.GET)
    asked = read_asked(form, user, today)
    table = answer(asked, today)
    page = Paginator(table.rows, ROWS_A_PAGE).get_page(request.GET.get("page"))
    rows, query = list(page.object_list), request.GET
    context: dict[str, Any] = {
        "asked": asked,
        "form": form,
        "table": table,
        "page": page,
        "rows": shown_rows(table, rows, asked, query),
        "total": [
            (column.title, column.written(table.total[column.key]))
            for column in table.columns
            if table.total
        ],
        "headings": _headings(table, query),
        "as_of": timezone.localtime(),
        "narrowed": narrowings(
            asked, query, user, opens_customers=has_role(user, *_OPENS_CUSTOMERS)
        ),
        "drawn": table.drawn_column.title,
        **_choices(asked, user, request),
        **_beside(asked, table, request),
    }
    if asked.question != Question.STOCK_COSTS:
        context["picture"] = bars_of(table, rows)
    return render(request, "orders/year_figures/year_figures.html", context)


@role_required(*READERS)
@require_safe
def year_figures_csv(request: HttpRequest) -> HttpResponse:
    """All rows of the same table; each says from when to when it counts and as of which moment."""
    user, today = signed_in(request), timezone.localdate()
    asked = read_asked(AskedForm(request.GET), user, today)
    wants_reasons = asked.question == Question.QUOTES and request.GET.get("table") == "reasons"
    table = reasons_table(asked) if wants_reasons else answer(asked, today)
    counted = (
        asked.period.first.isoformat(),
        asked.period.last.isoformat(),
        timezone.localtime().strftime("%Y-%m-%d %H:%M"),
    )
    rows = [
        (row.label, *(c.in_file(row.cells[c.key]) for c in table.columns), *counted)
        for row in table.rows
    ]
    name = "reasons" if wants_reasons else f"{asked.question.value}-by-{asked.by.value}"
    columns = [table.heading, *(c.title for c in table.columns), "from", "to", "as of"]
    return csv_response(f"{name}-{counted[0]}-{counted[1]}", columns, rows)


def _choices(asked: Asked, user: User, request: HttpRequest) -> dict[str, Any]:
    """Links to the other questions, periods and groups; each keeps the rest of the address."""
    query = request.GET
    return {
        "questions": [
            (each.label, address(query, question=each.value, sort=None), each == asked.question)
            for each in questions_of(user)
        ],
        "periods": [
            (
                each.label,
                address(query, period=each.value, first=None, last=None),
                each == asked.period.name,
            )
            for each in PeriodName
            if each != PeriodName.DAYS
        ],
        "groups": []
        if asked.is_of_stocks
        else [
            (each.label, address(query, by=each.value, sort=None), each == asked.by) for each in By
        ],
        "counts": [
            (each.label, address(query, counted=each.value), each == asked.counted)
            for each in Counted
        ]
        if asked.is_of_orders
        else [],
        "kept": [
            (name, value)
            for name, value in query.items()
            if name not in ("period", "first", "last", "page")
        ],
        "csv": address(query),
    }


def _headings(table: Table, query: Any) -> list[tuple[str, str, str, bool]]:
    """Title, address that sorts by it, how it is sorted (for ``aria-sort``), and if of numbers."""
    found = []
    for key, title, first, is_number in (
        ("label", table.heading, "label", False),
        *((c.key, c.title, c.first_sort, c.is_number) for c in table.columns),
    ):
        now = ""
        if table.sorted_by == key:
            now = "descending" if table.sort.startswith("-") else "ascending"
        other = key if table.sort.startswith("-") else f"-{key}"
        found.append((title, address(query, sort=other if now else first), now, is_number))
    return found


def _beside(asked: Asked, table: Table, request: HttpRequest) -> dict[str, Any]:
    """What stands under the table: reasons of declined quotes, the costs of one stock."""
    if asked.question == Question.QUOTES:
        reasons = reasons_table(asked)
        shown = reasons.rows[:MOST_REASONS]
        return {
            "reasons": shown_rows(reasons, shown, asked, request.GET, leads_on=False),
            "reason_columns": reasons.columns,
            "reasons_left": len(reasons.rows) - len(shown),
            "reasons_csv": address(request.GET, table="reasons"),
        }
    if asked.question == Question.STOCK_COSTS and table.rows:
        named = {row.key: row.label for row in table.rows}
        code = asked.stock if asked.stock in named else str(table.rows[0].key)
        today = timezone.localdate()
        line = cost_line(code, asked.period, today)
        return {
            "picture": cost_picture(named[code], line, asked, today),
            "stock_name": named[code],
            "line": line,
        }
    return {}
