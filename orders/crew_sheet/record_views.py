"""Records of applications for the company that keeps them: list, file, correction."""

from __future__ import annotations

from typing import Any, Final

from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.utils.translation import gettext as _
from django.views.decorators.http import require_http_methods, require_safe

from blendshop.accounts.signed_in import signed_in
from blendshop.csv_download import csv_response
from blendshop.errors import BadInput
from blendshop.figures.readers import reader
from blendshop.pages import page_of
from blendshop.roles import role_required
from formulas.reference.application_records import record_duties
from orders.crew_sheet.actions import KEEPERS, correct_record
from orders.crew_sheet.forms import RecordFilter, RecordForm, of_record
from orders.crew_sheet.records import (
    COLUMNS,
    duties_of,
    find_records,
    kept_records,
    read_records,
    table_rows,
)
from orders.models import ApplicationRecord
from orders.records.forms import Refusals

RECORDS_A_PAGE: Final = 40
#: More rows than a company sprays in years; a larger file is asked for by days.
MOST_ROWS: Final = 20_000


@role_required(*KEEPERS)
@require_safe
def crew_records(request: HttpRequest) -> HttpResponse:
    """All of a company, corrected ones marked; what each state asks for beside them."""
    form = RecordFilter(request.GET)
    found = find_records(signed_in(request), form.cleaned_data if form.is_valid() else {})
    page = page_of(found, request.GET.get("page"), per_page=RECORDS_A_PAGE, read=read_records)
    page.object_list = kept_records(page.object_list)
    context = {
        "form": form,
        "page": page,
        "duties": duties_of(each.record.state for each in page.object_list),
        "query": request.GET.urlencode(),
    }
    return render(request, "orders/crew_sheet/crew_records.html", context)


@role_required(*KEEPERS)
@require_safe
def crew_records_csv(request: HttpRequest) -> HttpResponse:
    """The same rows as a file, every field."""
    form = RecordFilter(request.GET)
    found = find_records(signed_in(request), form.cleaned_data if form.is_valid() else {})
    if found.count() > MOST_ROWS:
        most = reader().number(MOST_ROWS, 0)
        raise BadInput(_("More than {most} rows: choose days.").format(most=most))
    rows = found.select_related("sheet", "correction")
    return csv_response("application-records", COLUMNS, table_rows(rows))


@role_required(*KEEPERS)
@require_http_methods(["GET", "HEAD", "POST"])
def crew_record_correct(request: HttpRequest, pk: int) -> HttpResponse:
    """A new row in the place of one that stands."""
    user = signed_in(request)
    records = ApplicationRecord.objects.visible_to(user).standing().select_related("sheet__company")
    record = get_object_or_404(records, pk=pk)
    form = RecordForm(
        request.POST if request.method == "POST" else None,
        duty=record_duties().get(record.state),
        initial=of_record(record),
    )
    refusals = Refusals(form)

    def correct(typed: dict[str, Any]) -> None:
        correct_record(record=record, applied=form.applied, key=typed["key"], acting_user=user)

    if request.method == "POST" and refusals.taken(correct):
        messages.success(request, _("The correction stands; the first one is kept beside it."))
        return redirect("crew_records")
    context = {"form": form, "record": record, "sheet": record.sheet}
    status = refusals.status if request.method == "POST" else 200
    return render(request, "orders/crew_sheet/crew_record_correct.html", context, status=status)
