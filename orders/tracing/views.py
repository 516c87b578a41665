"""Where a lot went, where a package came from: one page, one CSV, one JSON."""

from django.core.paginator import Paginator
from django.http import HttpRequest, HttpResponse, JsonResponse
from django.shortcuts import render
from django.utils.translation import gettext as _
from django.views.decorators.http import require_safe

from blendshop.csv_download import csv_response
from blendshop.errors import BadInput
from blendshop.roles import RECALLERS, STAFF, has_role, role_required
from orders.inventory.forms import TraceForm
from orders.inventory.trace import trace
from orders.inventory.traced import Trace
from orders.production.grades import grades_of_batches
from orders.tracing.table import COLUMNS, as_json, table

#: The CSV has all of them.
BATCHES_A_PAGE = 50


@role_required(*STAFF)
@require_safe
def trace_page(request: HttpRequest) -> HttpResponse:
    form = TraceForm(request.GET)
    asked = form.cleaned_data["q"].strip() if form.is_valid() else ""
    found = trace(asked)
    page = Paginator(found.batches if found else (), BATCHES_A_PAGE).get_page(
        request.GET.get("page")
    )
    context = {
        "form": form,
        "asked": asked,
        "found": found,
        "page": page,
        "grades": grades_of_batches(batch.number for batch in page.object_list),
        "may_recall": has_role(request.user, *RECALLERS),
    }
    return render(request, "orders/tracing/trace_page.html", context)


@role_required(*STAFF)
@require_safe
def trace_csv(request: HttpRequest) -> HttpResponse:
    found = _found(request)
    safe = "".join(sign if sign.isalnum() else "-" for sign in found.asked)[:40]
    return csv_response(f"trace-{safe}", COLUMNS, table(found))


@role_required(*STAFF)
@require_safe
def trace_json(request: HttpRequest) -> HttpResponse:
    """The same for a program: ``orders.tracing.table.as_json``."""
    return JsonResponse(as_json(_found(request)))


def _found(request: HttpRequest) -> Trace:
    asked = request.GET.get("q", "").strip()
    found = trace(asked)
    if found is None:
        raise BadInput(
            _("Nothing is known as %(asked)s.") % {"asked": asked[:80]}
            if asked
            else _("Say what to trace.")
        )
    return found
