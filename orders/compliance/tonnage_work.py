"""The tonnage report as a file, drawn by a worker where many shipments are in it."""

from __future__ import annotations

from datetime import date
from typing import Final

from django.conf import settings
from django.utils import timezone
from django.utils.translation import gettext_lazy as _

from blendshop.csv_download import csv_text
from blendshop.long_work.files import register_file
from blendshop.long_work.kinds import Assignment, Download
from blendshop.roles import Role
from orders.compliance.tonnage import COLUMNS, TonnageReport, table, tonnage_report
from orders.compliance.tonnage_pdf import render_tonnage
from orders.models import PlantProfile
from orders.records.letterhead import plant_block

REPORTERS: Final = frozenset({Role.OFFICE, Role.FORMULATOR})
#: A report of so many orders is drawn while one waits.
MOST_ORDERS_AT_ONCE: Final = 300


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


TONNAGE_FILE: Final = register_file(
    name="tonnage-file",
    title=_("Tonnage report"),
    roles=REPORTERS,
    draw=_draw,
    begun_at="tonnage",
)
