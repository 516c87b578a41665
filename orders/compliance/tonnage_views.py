"""The tonnage report: on screen, as CSV, as PDF. It names fees, so it is not the plant's."""

from django.conf import settings
from django.http import HttpRequest, HttpResponse
from django.shortcuts import render
from django.utils import timezone
from django.views.decorators.http import require_safe

from blendshop.csv_download import csv_response
from blendshop.downloads import private_pdf
from blendshop.roles import Role, role_required
from orders.compliance.forms import TonnageForm, last_month
from orders.compliance.tonnage import COLUMNS, TonnageReport, states, table, tonnage_report
from orders.compliance.tonnage_pdf import fee_facts, render_tonnage
from orders.models import PlantProfile
from orders.records.forms import require_valid
from orders.records.letterhead import plant_block

REPORTERS = (Role.OFFICE, Role.FORMULATOR)


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
    report = _asked(request)
    return csv_response(_name(report), COLUMNS, table(report))


@role_required(*REPORTERS)
@require_safe
def tonnage_pdf(request: HttpRequest) -> HttpResponse:
    report = _asked(request)
    plant = plant_block(PlantProfile.load())
    pdf = render_tonnage(report, plant, timezone.localdate(), settings.CURRENCY)
    return private_pdf(pdf, _name(report))


def _asked(request: HttpRequest) -> TonnageReport:
    return tonnage_report(**require_valid(TonnageForm(request.GET, states=states())))


def _name(report: TonnageReport) -> str:
    return f"tonnage-{report.state}-{report.first}-{report.last}"
