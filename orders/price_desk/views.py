"""The page of prices and terms: look, try, save."""

from collections.abc import Sequence

from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.utils import timezone
from django.utils.translation import gettext as _
from django.views.decorators.http import require_http_methods, require_POST, require_safe

from blendshop.accounts.signed_in import signed_in
from blendshop.csv_upload import MOST_BYTES, decode
from blendshop.downloads import private_file
from blendshop.errors import BadInput
from blendshop.roles import Role, role_required
from blendshop.searched_rows import options_page, typed_words
from blendshop.uploads import takes_files
from orders.price_desk.actions import save_prices
from orders.price_desk.csv_table import PriceLineError, export_prices, read_prices
from orders.price_desk.desk import PriceDesk
from orders.price_desk.forms import priceable_revisions
from orders.price_desk.preview import preview_of
from orders.quoting.forms import of_blends_named, revision_words


@role_required(Role.OFFICE)
@require_http_methods(["GET", "HEAD", "POST"])
def price_desk(request: HttpRequest) -> HttpResponse:
    """GET the tables; POST ``do=preview`` prices by what was typed, anything else saves it."""
    today = timezone.localdate()
    if request.method != "POST":
        return _page(request, PriceDesk(today))
    desk = PriceDesk(today, request.POST)
    if request.POST.get("do") == "preview":
        if request.headers.get("HX-Request"):
            context = {"preview": preview_of(desk, today)}
            return render(request, "orders/price_desk/partials/preview.html", context)
        return _page(request, desk)
    if not desk.is_valid():
        return _page(request, desk, status=400)
    typed = desk.typed()
    if typed.is_empty:
        messages.warning(request, _("Nothing was changed."))
        return redirect("price_desk")
    try:
        save_prices(
            acting_user=signed_in(request),
            policy=typed.policy,
            rows=typed.rows,
            removed=typed.removed,
        )
    except BadInput as error:
        told = " ".join(dict.fromkeys([error.message, *error.fields.values()]))
        desk.policy.add_error(None, told)
        return _page(request, desk, status=error.status)
    messages.success(request, _("Prices and terms are saved. Quotes that are out keep theirs."))
    return redirect("price_desk")


@role_required(Role.OFFICE)
@require_safe
def price_blend_options(request: HttpRequest) -> HttpResponse:
    """Saved blends that fit what is typed."""
    found = of_blends_named(priceable_revisions(), typed_words(request))
    return options_page(request, found, revision_words)


@role_required(Role.OFFICE)
@require_safe
def price_export(request: HttpRequest) -> HttpResponse:
    """The tables as they stand."""
    today = timezone.localdate()
    name = f"prices-{today.isoformat()}.csv"
    return private_file(export_prices(PriceDesk(today)), "text/csv; charset=utf-8", name)


@role_required(Role.OFFICE)
@takes_files(MOST_BYTES)
@require_POST
def price_upload(request: HttpRequest) -> HttpResponse:
    """Fill the page from a file; what it would do stands beside it, and nothing is saved."""
    today = timezone.localdate()
    file = request.FILES.get("table")
    if file is None:
        messages.error(request, _("Choose a file."))
        return redirect("price_desk")
    try:
        desk, errors = read_prices(decode(file.read(MOST_BYTES + 1)), today)
    except BadInput as error:
        messages.error(request, error.message)
        return redirect("price_desk")
    return _page(request, desk, status=400 if errors else 200, lines=errors)


def _page(
    request: HttpRequest, desk: PriceDesk, status: int = 200, lines: Sequence[PriceLineError] = ()
) -> HttpResponse:
    context = {
        "desk": desk,
        "preview": preview_of(desk, timezone.localdate()) if desk.policy.is_bound else None,
        "refused": status != 200 and not lines,
        "lines": lines,
    }
    return render(request, "orders/price_desk/price_desk.html", context, status=status)
