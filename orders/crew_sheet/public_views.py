"""The phone page of a sheet: read and written to by its signed link, without a login."""

from __future__ import annotations

from typing import Any, Final
from urllib.parse import urlencode

from django.conf import settings
from django.contrib import messages
from django.contrib.auth.decorators import login_not_required
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.utils.translation import gettext as _
from django.views.decorators.cache import never_cache
from django.views.decorators.http import require_http_methods, require_safe

from blendshop.languages.middleware import ASKED
from blendshop.languages.offered import Language
from orders.crew_sheet.actions import write_record
from orders.crew_sheet.forms import RecordForm, of_sheet
from orders.crew_sheet.language import language_of, read_by_crew
from orders.crew_sheet.links import sheet_of_token
from orders.crew_sheet.page import sheet_page
from orders.crew_sheet.views import sheet_pdf
from orders.models import CrewSheet, PlantProfile
from orders.records.forms import Refusals

#: In the address behind a record that was saved: its key.
SAVED: Final = "saved"


@login_not_required
@never_cache
@require_http_methods(["GET", "HEAD", "POST"])
def crew_phone(request: HttpRequest, token: str) -> HttpResponse:
    """The sheet as steps, and the record of the application as a form; no price, no recipe."""
    sheet = sheet_of_token(token)
    language = language_of(request, sheet)
    with read_by_crew(language):
        page = sheet_page(sheet)
        form = RecordForm(
            request.POST if request.method == "POST" else None,
            duty=page.duty,
            initial=of_sheet(sheet, page.amount_gal),
        )
        refusals = Refusals(form)

        def write(typed: dict[str, Any]) -> None:
            write_record(sheet=sheet, applied=form.applied, key=typed["key"])

        if request.method == "POST" and refusals.taken(write):
            messages.success(request, _("The record is kept. Thank you."))
            told = urlencode({ASKED: language, SAVED: form.cleaned_data["key"]})
            return redirect(f"{request.path}?{told}")
        context = {
            "of": page,
            "sheet": sheet,
            "token": token,
            "form": form,
            "saved": _saved(request, sheet),
            "plant": PlantProfile.load(),
            "crew_language": language,
            "languages": Language.choices,
        }
        status = refusals.status if request.method == "POST" else 200
        return render(request, "orders/crew_sheet/crew_phone.html", context, status=status)


def _saved(request: HttpRequest, sheet: CrewSheet) -> str:
    """The key of a record that is kept: the phone then lets go of what it had of it."""
    key = request.GET.get(SAVED, "")
    return key if key and sheet.records.filter(key=key).exists() else ""


@login_not_required
@require_safe
def crew_worker(request: HttpRequest) -> HttpResponse:
    """The script that keeps phone pages on the phone; it may only see ``/crew/phone/``."""
    response = render(
        request,
        "orders/crew_sheet/crew_worker.js",
        {"files": settings.STATIC_URL},
        content_type="text/javascript",
    )
    response["Cache-Control"] = "no-cache"
    return response


@login_not_required
@never_cache
@require_safe
def crew_phone_pdf(request: HttpRequest, token: str) -> HttpResponse:
    return sheet_pdf(request, sheet_of_token(token))
