"""The tonnage report: on screen, as CSV, as PDF. It names fees, so it is not the plant's."""

from django.conf import settings
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.utils import timezone
from django.views.decorators.http import require_safe

from blendshop.accounts.signed_in import signed_in
from blendshop.downloads import private_file
from blendshop.long_work.actions.beginning import begin
from blendshop.roles import role_required
from orders.compliance.forms import TonnageForm, last_month
from orders.compliance.tonnage import shipped_orders, states, tonnage_report
from orders.compliance.tonnage_pdf import fee_facts
from orders.compliance.tonnage_work import (
    MOST_ORDERS_AT_ONCE,
    REPORTERS,
    TONNAGE_FILE,
    drawn_report,
)
from orders.records.forms import require_valid


@role_required(*REPORTERS)
@require_safe
def tonnage(request: HttpRequest) -> HttpResponse:
    shipped_to = states()
    first, last = last_month(timezone.localdate())
    initial = {"first": first, "last": last}
    form = TonnageForm(request.GET or None, states=shipped_to, initial=initial)
    context = {"form": form, "states": shipped_to}
    if form.is_valid():
        report = tonnage_report(**form.cleaned_data)
        context |= {
            "report": report,
            "fee": fee_facts(report, report.fee, settings.CURRENCY) if report.fee else (),
        }
    return render(request, "orders/compliance/tonnage_page.html", context)


@role_required(*REPORTERS)
@require_safe
def tonnage_csv(request: HttpRequest) -> HttpResponse:
    return _file(request, "csv", "text/csv; charset=utf-8")


@role_required(*REPORTERS)
@require_safe
def tonnage_pdf(request: HttpRequest) -> HttpResponse:
    return _file(request, "pdf", "application/pdf")


def _file(request: HttpRequest, suffix: str, content_type: str) -> HttpResponse:
    """The report as a file; of very many orders a worker draws it."""
    asked = require_valid(TonnageForm(request.GET, states=states()))
    if shipped_orders(**asked).count() > MOST_ORDERS_AT_ONCE:
        arguments = {key: str(value) for key, value in asked.items()}
        work = begin(
            TONNAGE_FILE,
            asked_by=signed_in(request),
            arguments={**arguments, "suffix": suffix},
        )
        return redirect("work_detail", pk=work.pk)
    drawn = drawn_report(**asked, suffix=suffix)
    return private_file(drawn.content, content_type, drawn.name, shown=suffix == "pdf")
