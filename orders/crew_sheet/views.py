"""Crew sheets for who signs in: the list, a new one, one of them, its PDF, closing it."""

from __future__ import annotations

from typing import Any, Final

from django.contrib import messages
from django.db.models import Count
from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.utils.translation import gettext as _
from django.views.decorators.http import require_http_methods, require_POST, require_safe

from blendshop.accounts.models import User
from blendshop.accounts.signed_in import signed_in
from blendshop.downloads import private_pdf
from blendshop.languages.offered import Language
from blendshop.pages import page_of
from blendshop.roles import STAFF, Role, has_role, role_required
from orders.crew_sheet.actions import KEEPERS, MAKERS, close_sheet, make_sheet
from orders.crew_sheet.application import NEVER_SPRAYED
from orders.crew_sheet.forms import SheetForm
from orders.crew_sheet.language import language_of, read_by_crew
from orders.crew_sheet.links import sheet_url
from orders.crew_sheet.page import sheet_page
from orders.crew_sheet.records import kept_records, read_records
from orders.crew_sheet.sheet_pdf import render_crew_sheet
from orders.models import CrewSheet, OrderLine, PlantProfile
from orders.records.access import get_order_for
from orders.records.forms import Refusals
from orders.records.letterhead import plant_block

SHEETS_A_PAGE: Final = 30
#: Lines offered for a new sheet, and records under a sheet; the lists have all.
LINES_SHOWN: Final = 8
RECORDS_SHOWN: Final = 10


def get_sheet_for(user: User, number: str) -> CrewSheet:
    """The sheet with its order; Http404 for strangers."""
    sheets = CrewSheet.objects.visible_to(user)
    of = sheets.select_related("company", "order_line__order", "order_line__revision", "part")
    return get_object_or_404(of, number=number)


@role_required(Role.CUSTOMER, *STAFF)
@require_safe
def crew_list(request: HttpRequest) -> HttpResponse:
    """The newest on top; a customer finds the lines to make one of above them."""
    user = signed_in(request)
    page = page_of(
        CrewSheet.objects.visible_to(user).order_by("-pk"),
        request.GET.get("page"),
        per_page=SHEETS_A_PAGE,
        read=_with_records,
    )
    context = {
        "page": page,
        "lines": _lines_to_spray(user),
        "is_staff_role": has_role(user, *STAFF),
        "may_keep": has_role(user, *KEEPERS),
    }
    return render(request, "orders/crew_sheet/crew_list.html", context)


def _with_records(sheets: Any) -> Any:
    return sheets.select_related("company", "order_line__order").annotate(
        record_count=Count("records")
    )


def _lines_to_spray(user: User) -> list[OrderLine]:
    if has_role(user, *STAFF) or not user.company_id:
        return []
    lines = OrderLine.objects.filter(order__company=user.company_id)
    lines = lines.exclude(order__status__in=NEVER_SPRAYED).order_by("-order_id", "position")
    return list(lines.select_related("order", "revision__blend")[:LINES_SHOWN])


@role_required(*MAKERS)
@require_http_methods(["GET", "HEAD", "POST"])
def crew_new(request: HttpRequest, number: str, position: int) -> HttpResponse:
    """A sheet of one line of an order."""
    user = signed_in(request)
    order = get_order_for(user, number)
    lines = order.lines.select_related("order__ship_to", "order__company", "revision__blend")
    line = get_object_or_404(lines, position=position)
    sent = request.POST if request.method == "POST" else None
    form = SheetForm(sent, line=line, lot=request.GET.get("lot", ""))
    refusals = Refusals(form)
    made: list[CrewSheet] = []

    def make(typed: dict[str, Any]) -> None:
        made.append(
            make_sheet(
                acting_user=user,
                line=line,
                part=typed["part"],
                application=form.application,
                key=typed["key"],
            )
        )

    if request.method == "POST" and refusals.taken(make):
        return redirect("crew_sheet", made[0].number)
    context = {"form": form, "line": line, "order": order}
    status = refusals.status if request.method == "POST" else 200
    return render(request, "orders/crew_sheet/crew_new.html", context, status=status)


@role_required(Role.CUSTOMER, *STAFF)
@require_safe
def crew_sheet(request: HttpRequest, number: str) -> HttpResponse:
    """One sheet as its crew reads it, with its link, its papers and what was applied."""
    user = signed_in(request)
    sheet = get_sheet_for(user, number)
    may_keep = has_role(user, *KEEPERS)
    records = sheet.records.order_by("-applied_on", "-pk")
    context = {
        "of": sheet_page(sheet),
        "sheet": sheet,
        "order": sheet.order_line.order,
        "url": sheet_url(sheet),
        "languages": Language.choices,
        "records": kept_records(read_records(records)[:RECORDS_SHOWN]) if may_keep else [],
        "may_keep": may_keep,
        "may_close": has_role(user, *MAKERS) and sheet.closed_at is None,
    }
    return render(request, "orders/crew_sheet/crew_sheet.html", context)


@role_required(Role.CUSTOMER, *STAFF)
@require_safe
def crew_sheet_pdf(request: HttpRequest, number: str) -> HttpResponse:
    """One letter page, in the language asked for."""
    return sheet_pdf(request, get_sheet_for(signed_in(request), number))


def sheet_pdf(request: HttpRequest, sheet: CrewSheet) -> HttpResponse:
    """The page in the reader's language; drawn anew, as recalls and cautions are today's."""
    language = language_of(request, sheet)
    with read_by_crew(language):
        plant = plant_block(PlantProfile.load())
        pdf = render_crew_sheet(sheet_page(sheet), plant, sheet_url(sheet))
    return private_pdf(pdf, f"{sheet.number}-{language}")


@role_required(*MAKERS)
@require_POST
def crew_sheet_close(request: HttpRequest, number: str) -> HttpResponse:
    user = signed_in(request)
    sheet = get_sheet_for(user, number)
    close_sheet(sheet=sheet, acting_user=user)
    messages.success(request, _("{number} is closed.").format(number=number))
    return redirect("crew_sheet", number)
