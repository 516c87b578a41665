"""The tonnage report: on screen, as CSV, as PDF. It names fees, so it is not the plant's."""

from typing import Any, Final

from django.conf import settings
from django.db.models import QuerySet
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.utils import timezone
from django.views.decorators.http import require_http_methods

from blendshop.accounts.signed_in import signed_in
from blendshop.downloads import private_file
from blendshop.figures.readers import reader
from blendshop.long_work.actions.beginning import begin
from blendshop.long_work.asking import ask_to_begin
from blendshop.pages import page_of
from blendshop.roles import role_required
from orders.compliance.forms import TonnageForm, last_month
from orders.compliance.tonnage import (
    report_of_rows,
    require_period,
    shipments_of,
    shipped_orders,
    states,
    tonnage_report,
)
from orders.compliance.tonnage_pdf import fee_facts
from orders.compliance.tonnage_work import (
    MOST_ORDERS_ADDED_AT_ONCE,
    MOST_ORDERS_AT_ONCE,
    REPORTERS,
    TONNAGE_FILE,
    TONNAGE_REPORT,
    added_up,
    asked_of_worker,
    drawn_report,
    orders_in_words,
)
from orders.models import OrderEvent
from orders.records.forms import require_valid

#: So many shipped orders stand on a page; the file has all of them.
ORDERS_A_PAGE: Final = 50


@role_required(*REPORTERS)
@require_http_methods(["GET", "HEAD", "POST"])
def tonnage(request: HttpRequest) -> HttpResponse:
    """The report of a state and a period. Of very many orders a worker adds it up, by a POST."""
    shipped_to = states()
    first, last = last_month(timezone.localdate())
    initial = {"first": first, "last": last}
    form = TonnageForm(request.GET or None, states=shipped_to, initial=initial)
    context: dict[str, Any] = {"form": form, "states": shipped_to}
    if form.is_valid():
        asked = form.cleaned_data
        require_period(asked["first"], asked["last"])
        shipped = shipped_orders(**asked)
        if request.method == "POST":
            arguments = asked_of_worker(**asked)
            work = begin(TONNAGE_REPORT, asked_by=signed_in(request), arguments=arguments)
            return redirect("work_detail", pk=work.pk)
        shown = _shipments(request, asked["state"], shipped)
        context |= shown | _report(asked, shown["page"].paginator.count)
    return render(request, "orders/compliance/tonnage_page.html", context)


def _report(asked: dict[str, Any], orders: int) -> dict[str, Any]:
    """The tons and their fee; of very many orders as a worker added them up, if one did."""
    added = None
    if orders <= MOST_ORDERS_ADDED_AT_ONCE:
        report = tonnage_report(**asked)
    elif added := added_up(**asked):
        report = report_of_rows(**asked, rows=added.rows)
    else:
        return {"asked": asked, "orders": orders_in_words(orders, asked["state"], reader())}
    return {
        "asked": asked,
        "report": report,
        "added": added,
        "is_more_shipped": added is not None and added.orders != orders,
        "fee": fee_facts(report, report.fee, settings.CURRENCY) if report.fee else (),
    }


def _shipments(request: HttpRequest, state: str, shipped: QuerySet[OrderEvent]) -> dict[str, Any]:
    page = page_of(
        shipped.order_by("at", "pk"),
        request.GET.get("page"),
        per_page=ORDERS_A_PAGE,
        read=lambda events: events,
    )
    of_page = OrderEvent.objects.filter(pk__in=[event.pk for event in page.object_list])
    return {"page": page, "shipments": shipments_of(of_page, state)}


@role_required(*REPORTERS)
@require_http_methods(["GET", "HEAD", "POST"])
def tonnage_csv(request: HttpRequest) -> HttpResponse:
    return _file(request, "csv", "text/csv; charset=utf-8")


@role_required(*REPORTERS)
@require_http_methods(["GET", "HEAD", "POST"])
def tonnage_pdf(request: HttpRequest) -> HttpResponse:
    return _file(request, "pdf", "application/pdf")


def _file(request: HttpRequest, suffix: str, content_type: str) -> HttpResponse:
    """The report as a file; of very many orders a worker draws it, once somebody posts."""
    asked = require_valid(TonnageForm(request.GET, states=states()))
    if (orders := shipped_orders(**asked).count()) > MOST_ORDERS_AT_ONCE:
        if request.method != "POST":
            return ask_to_begin(
                request, TONNAGE_FILE, orders_in_words(orders, asked["state"], reader())
            )
        work = begin(
            TONNAGE_FILE,
            asked_by=signed_in(request),
            arguments={**asked_of_worker(**asked), "suffix": suffix},
        )
        return redirect("work_detail", pk=work.pk)
    drawn = drawn_report(**asked, suffix=suffix)
    return private_file(drawn.content, content_type, drawn.name, shown=suffix == "pdf")
