"""The tonnage report as a file, drawn by a worker where many shipments are in it."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date, datetime
from typing import Any, Final
from urllib.parse import urlencode

from django.conf import settings
from django.urls import reverse
from django.utils import timezone
from django.utils.translation import gettext_lazy as _
from django.utils.translation import ngettext

from blendshop.csv_download import csv_text
from blendshop.figures.readers import house
from blendshop.figures.writing import Figures
from blendshop.long_work.files import register_file
from blendshop.long_work.kinds import Assignment, Download, Found, Kind, Outcome, register
from blendshop.long_work.models import LongWork
from blendshop.roles import Role
from orders.compliance.tonnage import (
    COLUMNS,
    TonnageReport,
    TonnageRow,
    shipped_orders,
    table,
    tonnage_report,
)
from orders.compliance.tonnage_pdf import render_tonnage
from orders.models import PlantProfile
from orders.records.letterhead import plant_block

REPORTERS: Final = frozenset({Role.OFFICE, Role.FORMULATOR})
#: A report of so many orders is drawn, and one of so many is added up, while one waits.
MOST_ORDERS_AT_ONCE: Final = 300
MOST_ORDERS_ADDED_AT_ONCE: Final = 100


@dataclass(frozen=True, slots=True)
class AddedUp:
    """What a worker added up: of so many orders, and when it was done."""

    rows: tuple[TonnageRow, ...]
    orders: int
    at: datetime


def drawn_report(state: str, first: date, last: date, suffix: str) -> Download:
    """The report as ``csv`` or ``pdf``."""
    report = tonnage_report(state, first, last)
    content = _pdf(report) if suffix == "pdf" else csv_text(COLUMNS, table(report)).encode()
    return Download(f"tonnage-{report.state}-{report.first}-{report.last}.{suffix}", content)


def _pdf(report: TonnageReport) -> bytes:
    plant = plant_block(PlantProfile.load())
    return render_tonnage(report, plant, timezone.localdate(), settings.CURRENCY)


def _draw(assignment: Assignment) -> Download:
    state, first, last, suffix = (
        assignment.arguments[key] for key in ("state", "first", "last", "suffix")
    )
    return drawn_report(state, date.fromisoformat(first), date.fromisoformat(last), suffix)


def _add_up(assignment: Assignment, number: int) -> dict[str, Any]:
    asked = assignment.arguments
    first, last = date.fromisoformat(asked["first"]), date.fromisoformat(asked["last"])
    orders = shipped_orders(asked["state"], first, last).count()
    report = tonnage_report(asked["state"], first, last)
    rows = [[row.county, row.grade, row.lb] for row in report.rows]
    return {**asked, "orders": orders, "rows": rows}


def _keep(assignment: Assignment, answers: Sequence[Any]) -> Outcome:
    [found] = answers
    return Outcome(says=orders_in_words(found["orders"], found["state"], house()), result=found)


def _shown_at(work: Found) -> str:
    asked = {key: work.result[key] for key in ("state", "first", "last")}
    return f"{reverse('tonnage')}?{urlencode(asked)}"


TONNAGE_REPORT: Final = register(
    Kind(
        name="tonnage-report",
        title=_("Tonnage report"),
        roles=REPORTERS,
        part=_add_up,
        combine=_keep,
        is_shared=True,
        leads_to=_shown_at,
        begun_at="tonnage",
    )
)


def asked_of_worker(state: str, first: date, last: date) -> dict[str, str]:
    """The question of a state and a period, as work keeps it."""
    return {"state": state, "first": first.isoformat(), "last": last.isoformat()}


def added_up(state: str, first: date, last: date) -> AddedUp | None:
    """What a worker added up last of the state and period, while it is kept."""
    of_period = {
        f"arguments__{key}": value for key, value in asked_of_worker(state, first, last).items()
    }
    works = LongWork.objects.filter(kind=TONNAGE_REPORT.name, state=LongWork.State.DONE)
    work = works.filter(**of_period).order_by("-pk").first()
    if work is None or work.ended_at is None:
        return None
    rows = tuple(TonnageRow(*row) for row in work.result["rows"])
    return AddedUp(rows, work.result["orders"], work.ended_at)


def orders_in_words(orders: int, state: str, figures: Figures) -> str:
    """How much a report has to add up."""
    said = ngettext(
        "%(orders)s order was shipped to %(state)s in this period.",
        "%(orders)s orders were shipped to %(state)s in this period.",
        orders,
    )
    return said % {"orders": figures.number(orders, 0), "state": state}


TONNAGE_FILE: Final = register_file(
    name="tonnage-file",
    title=_("Tonnage report"),
    roles=REPORTERS,
    draw=_draw,
    begun_at="tonnage",
)
