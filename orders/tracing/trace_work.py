"""The table of a trace through very many batches is written by a worker."""

from __future__ import annotations

from typing import Final

from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy, ngettext

from blendshop.csv_download import csv_text
from blendshop.errors import BadInput
from blendshop.figures.readers import reader
from blendshop.long_work.files import register_file
from blendshop.long_work.kinds import Download
from blendshop.roles import STAFF
from orders.inventory.trace import trace
from orders.inventory.traced import Trace
from orders.tracing.table import COLUMNS, table

#: A trace of so many batches is written while one waits.
MOST_BATCHES_AT_ONCE: Final = 200


def traced(asked: str) -> Trace:
    """What was traced; BadInput where nothing is known of it."""
    found = trace(asked)
    if found is None:
        raise BadInput(
            _("Nothing is known as %(asked)s.") % {"asked": asked[:80]}
            if asked
            else _("Say what to trace.")
        )
    return found


def trace_table(found: Trace) -> Download:
    """The trace as a CSV file."""
    safe = "".join(sign if sign.isalnum() else "-" for sign in found.asked)[:40]
    return Download(f"trace-{safe}.csv", csv_text(COLUMNS, table(found)).encode())


def size_words(found: Trace) -> str:
    """What a table of very many batches is of."""
    return ngettext(
        "The trace of %(asked)s is through %(batches)s batch.",
        "The trace of %(asked)s is through %(batches)s batches.",
        len(found.batches),
    ) % {"asked": found.asked, "batches": reader().number(len(found.batches), 0)}


TRACE_TABLE: Final = register_file(
    name="trace-table",
    title=gettext_lazy("Table of a trace"),
    roles=STAFF,
    draw=lambda assignment: trace_table(traced(assignment.arguments["asked"])),
    begun_at="trace",
)
