"""A long list of the page as a file, drawn by a worker."""

from __future__ import annotations

from typing import Final

from django.utils import timezone
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy

from blendshop.csv_download import csv_text
from blendshop.errors import IllegalMove
from blendshop.long_work.files import register_file
from blendshop.long_work.kinds import Assignment, Download
from blendshop.roles import SEES_COST
from orders.cost_change.export import TABLES
from orders.models import CostImpact

#: A table of so many rows is made while one waits.
MOST_ROWS_AT_ONCE: Final = 2_000


def _draw(assignment: Assignment) -> Download:
    table = assignment.arguments["table"]
    impact = CostImpact.objects.defer("blends").filter(pk=assignment.arguments["impact"]).first()
    if impact is None:
        raise IllegalMove(_("It was worked out anew meanwhile."))
    columns, rows = TABLES[table]
    text = csv_text(columns, rows(impact, timezone.localdate()))
    return Download(f"new-costs-{impact.change_id}-{table}.csv", text.encode())


COST_TABLE: Final = register_file(
    name="cost-change-table",
    title=gettext_lazy("Table of what new costs do"),
    roles=SEES_COST,
    draw=_draw,
    begun_at="cost_change_list",
)
