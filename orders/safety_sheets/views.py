"""Sheets of a stock or a blend, putting one in, and the file itself."""

from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.utils.translation import gettext as _
from django.views.decorators.http import require_http_methods, require_safe

from blendshop.accounts.signed_in import signed_in
from blendshop.downloads import private_file
from blendshop.roles import STAFF, Role, has_role, role_required
from blendshop.uploads import MB, PDF, takes_files
from formulas.access import get_blend_for, get_stock_for
from formulas.models import BaseStock, Blend
from orders.models import SafetySheet
from orders.records.forms import Refusals
from orders.safety_sheets.actions import UPLOADERS, put_in_sheet
from orders.safety_sheets.forms import LARGEST_MB, SheetForm


@role_required(*STAFF)
@takes_files(LARGEST_MB * MB)
@require_http_methods(["GET", "HEAD", "POST"])
def stock_sheets(request: HttpRequest, code: str) -> HttpResponse:
    return _sheets(request, get_stock_for(signed_in(request), code))


@role_required(*STAFF)
@takes_files(LARGEST_MB * MB)
@require_http_methods(["GET", "HEAD", "POST"])
def blend_sheets(request: HttpRequest, pk: int) -> HttpResponse:
    return _sheets(request, get_blend_for(signed_in(request), pk))


def _sheets(request: HttpRequest, of: BaseStock | Blend) -> HttpResponse:
    """All versions, the newest on top; a post puts one in."""
    user = signed_in(request)
    sent = (request.POST, request.FILES) if request.method == "POST" else (None, None)
    form = SheetForm(*sent)
    refusals = Refusals(form)

    def put_in(typed: dict[str, object]) -> None:
        pdf = form.cleaned_data["file"].read()
        day = form.cleaned_data["revised_on"]
        put_in_sheet(acting_user=user, of=of, pdf=pdf, revised_on=day)

    if request.method == "POST" and refusals.taken(put_in):
        messages.success(request, _("The sheet is there; whoever bought it finds it."))
        return redirect(request.path)
    what = {"stock": of} if isinstance(of, BaseStock) else {"blend": of}
    sheets = SafetySheet.objects.filter(**what).defer("pdf").select_related("uploaded_by")
    context = {
        "of": of,
        "is_stock": isinstance(of, BaseStock),
        "sheets": sheets.order_by("-version"),
        "form": form,
        "may_put_in": has_role(user, *UPLOADERS),
    }
    status = refusals.status if request.method == "POST" else 200
    return render(request, "orders/safety_sheets/sheets.html", context, status=status)


@role_required(Role.CUSTOMER, *STAFF)
@require_safe
def safety_sheet(request: HttpRequest, pk: int) -> HttpResponse:
    """The file, saved and not shown: it was sent in from outside."""
    sheet = get_object_or_404(SafetySheet.objects.visible_to(signed_in(request)), pk=pk)
    of = sheet.stock.code if sheet.stock else f"blend-{sheet.blend_id}"
    return private_file(bytes(sheet.pdf), PDF.content_type, f"sds-{of}-{sheet.version}.pdf")
