"""The page of figures and its file."""

from datetime import date
from typing import Any, Final

from django.core.paginator import Paginator
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.utils import timezone
from django.utils.translation import gettext as _
from django.views.decorators.http import require_http_methods

from blendshop.accounts.models import User
from blendshop.accounts.signed_in import signed_in
from blendshop.downloads import private_file
from blendshop.figures.readers import reader
from blendshop.long_work.actions.beginning import begin
from blendshop.long_work.asking import ask_to_begin
from blendshop.roles import Role, has_role, role_required
from orders.year_figures.answering import answer, bars_of, cost_picture, shown_rows
from orders.year_figures.asked import (
    READERS,
    Asked,
    AskedForm,
    By,
    Counted,
    Question,
    address,
    questions_of,
    read_asked,
)
from orders.year_figures.figures_work import (
    COST_FIGURES,
    FIGURES_FILE,
    MOST_ROWS_AT_ONCE,
    added_up,
    asked_of_worker,
    drawn_file,
    orders_in_words,
    table_of,
    waits_for_worker,
)
from orders.year_figures.narrowed import narrowings
from orders.year_figures.period import PeriodName
from orders.year_figures.quote_figures import reasons_table
from orders.year_figures.stock_figures import cost_line
from orders.year_figures.table import Table

ROWS_A_PAGE: Final = 25
MOST_REASONS: Final = 15
_OPENS_CUSTOMERS: Final = (Role.REP, Role.OFFICE)


@role_required(*READERS)
@require_http_methods(["GET", "HEAD", "POST"])
def year_figures(request: HttpRequest) -> HttpResponse:
    """One question over a period, grouped and sorted as the address says.

    The actual cost of very many orders is added up by a worker, once somebody posts.
    """
    user, today = signed_in(request), timezone.localdate()
    form = AskedForm(request.GET)
    asked, query = read_asked(form, user, today), request.GET
    orders = waits_for_worker(asked)
    if orders and request.method == "POST":
        work = begin(COST_FIGURES, asked_by=user, arguments=asked_of_worker(asked))
        return redirect("work_detail", work.pk)
    context: dict[str, Any] = {
        "asked": asked,
        "form": form,
        "narrowed": narrowings(
            asked, query, user, opens_customers=has_role(user, *_OPENS_CUSTOMERS)
        ),
        **_choices(asked, user, request),
    }
    added = added_up(asked) if orders else None
    if orders and added is None:
        context["to_add_up"] = orders_in_words(orders, reader())
        return render(request, "orders/year_figures/year_figures.html", context)
    table = answer(asked, today, added.sums if added else None)
    page = Paginator(table.rows, ROWS_A_PAGE).get_page(query.get("page"))
    rows = list(page.object_list)
    context |= {
        "table": table,
        "page": page,
        "rows": shown_rows(table, rows, asked, query),
        "total": [
            (column.title, column.written(table.total[column.key]))
            for column in table.columns
            if table.total
        ],
        "headings": _headings(table, query),
        "as_of": timezone.localtime(added.at if added else None),
        "added": added,
        "drawn": table.drawn_column.title,
        **_beside(asked, table, request),
    }
    if asked.question != Question.STOCK_COSTS:
        context["picture"] = bars_of(table, rows)
    return render(request, "orders/year_figures/year_figures.html", context)


@role_required(*READERS)
@require_http_methods(["GET", "HEAD", "POST"])
def year_figures_csv(request: HttpRequest) -> HttpResponse:
    """All rows of the same table; each says from when to when it counts and as of which moment.

    A long one is drawn by a worker, once somebody posts.
    """
    user, today = signed_in(request), timezone.localdate()
    asked, wanted = read_asked(AskedForm(request.GET), user, today), request.GET.get("table", "")
    as_of = timezone.localtime().strftime("%Y-%m-%d %H:%M")
    if words := _too_long(asked, wanted, today):
        if request.method != "POST":
            return ask_to_begin(request, FIGURES_FILE, words)
        arguments = {
            "asked": request.GET.urlencode(),
            "table": wanted,
            "today": today.isoformat(),
            "as_of": as_of,
        }
        work = begin(FIGURES_FILE, asked_by=user, arguments=arguments)
        return redirect("work_detail", work.pk)
    drawn = drawn_file(asked, wanted, today, as_of)
    return private_file(drawn.content, "text/csv; charset=utf-8", drawn.name)


def _too_long(asked: Asked, wanted: str, today: date) -> str:
    """How much a file is of that nobody waits for; empty of others."""
    if orders := waits_for_worker(asked):
        return orders_in_words(orders, reader())
    if asked.question == Question.COSTS:
        return ""
    rows = len(table_of(asked, wanted, today).rows)
    if rows <= MOST_ROWS_AT_ONCE:
        return ""
    return _("The file has {rows} rows.").format(rows=reader().number(rows, 0))


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
