"""What of the figures takes longer than a page may: actual cost of many orders, long files."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import date, datetime
from decimal import Decimal
from typing import Any, Final
from urllib.parse import urlencode

from django.http import QueryDict
from django.urls import reverse
from django.utils.translation import gettext_lazy as _
from django.utils.translation import ngettext

from blendshop.csv_download import csv_text
from blendshop.figures.readers import house
from blendshop.figures.writing import Figures
from blendshop.long_work.files import register_file
from blendshop.long_work.kinds import Assignment, Download, Found, Kind, Outcome, register
from blendshop.long_work.models import LongWork
from orders.year_figures.answering import answer
from orders.year_figures.asked import READERS, SEE_ALL, Asked, AskedForm, By, Question, read_asked
from orders.year_figures.line_figures import CostSums, cost_sums, counted_orders
from orders.year_figures.quote_figures import reasons_table
from orders.year_figures.table import Table, table_lines

#: The weights of so many orders are added up, and a file of so many rows is drawn, while one waits.
MOST_ORDERS_AT_ONCE: Final = 2_000
MOST_ROWS_AT_ONCE: Final = 2_000
#: Sums that are money; the others are counts and double precision.
_MONEY: Final = frozenset({"price", "quoted", "margin"})
#: What a month is grouped by, and called.
_MONTH: Final = ("of", "called")
_ASKED: Final = "asked"


@dataclass(frozen=True, slots=True)
class AddedUp:
    """What a worker added up: of so many orders, and when it was done."""

    sums: CostSums
    orders: int
    at: datetime


def waits_for_worker(asked: Asked) -> int:
    """Of how many orders the actual cost is asked, where that is too many for a page; else 0."""
    if asked.question != Question.COSTS:
        return 0
    orders = counted_orders(asked)
    return orders if orders > MOST_ORDERS_AT_ONCE else 0


def asked_of_worker(asked: Asked) -> dict[str, str]:
    """The question by its days and narrowings, as work keeps it; how it is sorted is no part."""
    words = {
        "question": asked.question.value,
        "period": "days",
        "first": asked.period.first.isoformat(),
        "last": asked.period.last.isoformat(),
        "by": asked.by.value,
        "counted": asked.counted.value,
    }
    narrowed = {"customer": asked.customer, "blend": asked.blend, "rep": asked.rep}
    words |= {name: str(key) for name, key in narrowed.items() if key is not None}
    return {_ASKED: urlencode(words | ({"state": asked.state} if asked.state else {}))}


def added_up(asked: Asked) -> AddedUp | None:
    """What a worker added up last of the same question, while it is kept."""
    of = {f"arguments__{name}": value for name, value in asked_of_worker(asked).items()}
    done = LongWork.objects.filter(kind=COST_FIGURES.name, state=LongWork.State.DONE, **of)
    work = done.order_by("-pk").first()
    if work is None or work.ended_at is None:
        return None
    kept = work.result
    rows = tuple(_read(row, by_month=asked.by == By.MONTH) for row in kept["rows"])
    return AddedUp(CostSums(rows, _read(kept["total"])), kept["orders"], work.ended_at)


def orders_in_words(orders: int, figures: Figures) -> str:
    """How much there is to add up."""
    said = ngettext(
        "%(orders)s order was counted in this period.",
        "%(orders)s orders were counted in this period.",
        orders,
    )
    return said % {"orders": figures.number(orders, 0)}


def drawn_file(asked: Asked, wanted: str, today: date, as_of: str) -> Download:
    """All rows of an answer, or (``reasons``) why quotes were declined, as a table."""
    table = table_of(asked, wanted, today)
    name = "reasons" if wanted == "reasons" else f"{asked.question.value}-by-{asked.by.value}"
    counted = (asked.period.first.isoformat(), asked.period.last.isoformat(), as_of)
    columns = [table.heading, *(c.title for c in table.columns), "from", "to", "as of"]
    text = csv_text(columns, table_lines(table, counted))
    return Download(f"{name}-{counted[0]}-{counted[1]}.csv", text.encode())


def table_of(asked: Asked, wanted: str, today: date) -> Table:
    is_reasons = asked.question == Question.QUOTES and wanted == "reasons"
    return reasons_table(asked) if is_reasons else answer(asked, today)


def _add_up(assignment: Assignment, number: int) -> dict[str, Any]:
    asked = _asked(assignment)
    sums = cost_sums(asked)
    return {
        _ASKED: assignment.arguments[_ASKED],
        "orders": counted_orders(asked),
        "rows": [_written(row) for row in sums.rows],
        "total": _written(sums.total),
    }


def _keep(assignment: Assignment, answers: Sequence[Any]) -> Outcome:
    [found] = answers
    return Outcome(says=orders_in_words(found["orders"], house()), result=found)


def _shown_at(work: Found) -> str:
    return f"{reverse('year_figures')}?{work.result[_ASKED]}"


def _draw(assignment: Assignment) -> Download:
    asked, told = _asked(assignment), assignment.arguments
    return drawn_file(asked, told["table"], date.fromisoformat(told["today"]), told["as_of"])


def _asked(assignment: Assignment) -> Asked:
    """As the address was read for whoever asked: a rep's file has its own quotes."""
    form = AskedForm(QueryDict(assignment.arguments[_ASKED]))
    told = assignment.arguments.get("today")
    today = date.fromisoformat(told) if told else date.min
    return read_asked(form, assignment.asker(), today)


def _written(sums: Mapping[str, Any]) -> dict[str, Any]:
    """Money as text, so that no cent is lost, and a month as it is read again."""
    found = {name: str(each) if name in _MONEY else each for name, each in sums.items()}
    months = {name: each for name, each in sums.items() if isinstance(each, datetime)}
    return found | {name: each.isoformat() for name, each in months.items()}


def _read(kept: Mapping[str, Any], *, by_month: bool = False) -> dict[str, Any]:
    found = {name: Decimal(each) if name in _MONEY else each for name, each in kept.items()}
    if by_month:
        found |= {name: datetime.fromisoformat(kept[name]) for name in _MONTH}
    return found


COST_FIGURES: Final = register(
    Kind(
        name="cost-figures",
        title=_("Quoted and actual cost"),
        roles=frozenset(SEE_ALL),
        part=_add_up,
        combine=_keep,
        is_shared=True,
        leads_to=_shown_at,
        begun_at="year_figures",
    )
)
FIGURES_FILE: Final = register_file(
    name="figures-file",
    title=_("Figures as a file"),
    roles=frozenset(READERS),
    draw=_draw,
    begun_at="year_figures",
)
