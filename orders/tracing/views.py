"""Where a lot went, where a package came from: one page, one CSV, one JSON."""

from django.core.paginator import Paginator
from django.http import HttpRequest, HttpResponse, JsonResponse
from django.shortcuts import redirect, render
from django.views.decorators.http import require_http_methods, require_safe

from blendshop.accounts.signed_in import signed_in
from blendshop.downloads import private_file
from blendshop.long_work.actions.beginning import begin
from blendshop.long_work.asking import ask_to_begin
from blendshop.roles import RECALLERS, STAFF, has_role, role_required
from orders.inventory.forms import TraceForm
from orders.inventory.trace import trace
from orders.production.grades import grades_of_batches
from orders.tracing.table import as_json
from orders.tracing.trace_work import (
    MOST_BATCHES_AT_ONCE,
    TRACE_TABLE,
    size_words,
    trace_table,
    traced,
)

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
@require_http_methods(["GET", "HEAD", "POST"])
def trace_csv(request: HttpRequest) -> HttpResponse:
    """All rows of it; of very many batches a worker writes them, once somebody posts."""
    found = traced(_asked(request))
    if len(found.batches) > MOST_BATCHES_AT_ONCE:
        if request.method != "POST":
            return ask_to_begin(request, TRACE_TABLE, size_words(found))
        work = begin(TRACE_TABLE, asked_by=signed_in(request), arguments={"asked": found.asked})
        return redirect("work_detail", pk=work.pk)
    drawn = trace_table(found)
    return private_file(drawn.content, "text/csv; charset=utf-8", drawn.name)


@role_required(*STAFF)
@require_safe
def trace_json(request: HttpRequest) -> HttpResponse:
    """The same for a program: ``orders.tracing.table.as_json``."""
    return JsonResponse(as_json(traced(_asked(request))))


def _asked(request: HttpRequest) -> str:
    return request.GET.get("q", "").strip()
