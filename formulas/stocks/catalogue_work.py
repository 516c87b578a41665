"""Large tables of the catalogue are previewed, written and exported by a worker."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import date
from typing import Any, Final

from django.urls import reverse
from django.utils import timezone
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy, ngettext

from blendshop.csv_download import MARK_OF_UTF_8
from blendshop.csv_upload import decode
from blendshop.figures.readers import reader
from blendshop.long_work.files import register_file
from blendshop.long_work.kinds import Assignment, Download, Kind, Outcome, register
from formulas.stocks.actions.upload import (
    UPLOADS,
    apply_upload,
    may_change_costs_only,
    plan_for,
)
from formulas.stocks.table.export import export_catalogue
from formulas.stocks.table.preview import UploadPreview, preview_of

#: A table of so many lines is previewed while one waits, a catalogue of so many stocks exported.
MOST_LINES_AT_ONCE: Final = 500
MOST_STOCKS_AT_ONCE: Final = 100


def counts_in_words(counts: dict[str, int]) -> str:
    """What an upload did."""
    return _("Catalogue updated: {new} new, {changed} changed, {unchanged} as before.").format(
        **counts
    )


def size_words(stocks: int) -> str:
    """What a file of a large catalogue holds."""
    said = ngettext(
        "The catalogue has %(stocks)s stock.", "The catalogue has %(stocks)s stocks.", stocks
    )
    return said % {"stocks": reader().number(stocks, 0)}


def table_name(today: date, *, costs_only: bool) -> str:
    """The file the catalogue, or its costs alone, are downloaded as."""
    return f"{'stock-costs' if costs_only else 'base-stocks'}-{today.isoformat()}.csv"


def _preview(assignment: Assignment, number: int) -> dict[str, Any]:
    plan = plan_for(assignment.asker(), decode(assignment.brought()))
    return preview_of(plan, with_unchanged=False).to_json()


def _keep_preview(assignment: Assignment, answers: Sequence[Any]) -> Outcome:
    [found] = answers
    preview = UploadPreview.from_json(found)
    said = _("{new} new, {changed} changed, {unchanged} as before.").format(
        new=preview.new, changed=preview.changed, unchanged=preview.unchanged
    )
    if preview.errors:
        said = _("The table needs correcting in {count} places.").format(count=len(preview.errors))
    return Outcome(says=said, result=found)


UPLOAD_PREVIEW: Final = register(
    Kind(
        name="catalogue-preview",
        title=gettext_lazy("Preview of the upload"),
        roles=frozenset(UPLOADS),
        part=_preview,
        combine=_keep_preview,
        leads_to=lambda work: reverse("stock_upload_preview", args=[work.pk]),
        begun_at="stock_upload",
    )
)


def _write(assignment: Assignment, number: int) -> dict[str, int]:
    plan = apply_upload(
        acting_user=assignment.asker(),
        text=decode(assignment.brought()),
        seen_digest=assignment.arguments["digest"],
        sure_of=assignment.arguments.get("sure", ""),
    )
    return plan.counts


UPLOAD_WRITING: Final = register(
    Kind(
        name="catalogue-upload",
        title=gettext_lazy("Upload of the base stocks"),
        roles=frozenset(UPLOADS),
        part=_write,
        combine=lambda _assignment, answers: Outcome(says=counts_in_words(answers[0])),
        in_one_transaction=True,
        begun_at="stock_list",
    )
)


def _export(assignment: Assignment) -> Download:
    today = timezone.localdate()
    costs_only = may_change_costs_only(assignment.asker())
    text = MARK_OF_UTF_8 + export_catalogue(today, costs_only=costs_only)
    return Download(table_name(today, costs_only=costs_only), text.encode())


CATALOGUE_EXPORT: Final = register_file(
    name="catalogue-table",
    title=gettext_lazy("Table of the base stocks"),
    roles=frozenset(UPLOADS),
    draw=_export,
    begun_at="stock_list",
)
