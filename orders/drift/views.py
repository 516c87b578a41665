"""Pages of drift: every stock of every supplier, the charts of one, and adopting its spread."""

from typing import Final
from urllib.parse import urlencode

from django.contrib import messages
from django.core.paginator import Paginator
from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.urls import reverse
from django.utils.translation import gettext as _
from django.views.decorators.http import require_http_methods, require_safe

from blendshop.accounts.signed_in import signed_in
from blendshop.errors import ChangedMeanwhile, IllegalMove
from blendshop.figures.readers import reader
from blendshop.one_at_a_time import one_at_a_time
from blendshop.roles import STAFF, Role, has_role, role_required
from formulas.models import BaseStock
from orders.blend_page.spreads import assay_spread
from orders.drift.actions import adopt_spread
from orders.drift.certificates import suppliers_of
from orders.drift.forms import BlendChoice, SeenSpread
from orders.drift.margin_change import SHOWN_BLENDS, MarginChange, blends_with, margin_change
from orders.drift.overview import drift_lines
from orders.drift.page import StockDrift, kept_figures, stock_drift
from orders.drift.series import Standing

LINES_A_PAGE: Final = 60
#: Blends to choose another one from.
_MOST_BLENDS: Final = 30
_SUPPLIER: Final = "supplier"


@role_required(*STAFF)
@require_safe
def drift_list(request: HttpRequest) -> HttpResponse:
    """Every stock of every supplier, worst first."""
    page = Paginator(drift_lines(), LINES_A_PAGE).get_page(request.GET.get("page"))
    context = {
        "page": page,
        "judged": [line for line in page if line.standing is not Standing.TOO_FEW],
        "too_few": [line for line in page if line.standing is Standing.TOO_FEW],
    }
    return render(request, "orders/drift/drift_list.html", context)


@role_required(*STAFF)
@require_safe
def drift_stock(request: HttpRequest, code: str) -> HttpResponse:
    """The charts of one stock; ``?supplier=`` those of one supplier."""
    stock, supplier = _stock(code), request.GET.get(_SUPPLIER)
    suppliers = suppliers_of(stock)
    if supplier is not None and supplier not in suppliers:
        suppliers.append(supplier)
    context = {
        "stock": stock,
        "supplier": supplier,
        "suppliers": suppliers,
        "drift": stock_drift(stock, supplier),
        "may_adopt": has_role(request.user, Role.FORMULATOR),
        "adopt_url": _address("drift_adopt", stock, supplier),
    }
    return render(request, "orders/drift/drift_stock.html", context)


@role_required(Role.FORMULATOR)
@require_http_methods(["GET", "HEAD", "POST"])
@one_at_a_time
def drift_adopt(request: HttpRequest, code: str) -> HttpResponse:
    """Asks once, with the margins of blends before and after; a POST adopts."""
    stock, supplier = _stock(code), request.GET.get(_SUPPLIER)
    drift = stock_drift(stock, supplier)
    changes, choice = _changes(request, stock, drift)
    refused, status = "", 200
    if request.method == "POST":
        try:
            row = adopt_spread(
                stock=stock,
                supplier=supplier,
                seen=SeenSpread(request.POST).seen(),
                acting_user=signed_in(request),
            )
        except (ChangedMeanwhile, IllegalMove) as error:
            refused, status = error.message, error.status
        else:
            messages.success(
                request,
                _("Margins take a spread of {pct} % for {stock} from now on.").format(
                    pct=reader().number(row.strength_rsd_pct, 2), stock=stock.name
                ),
            )
            return redirect(_address("drift_stock", stock, supplier))
    figures = None if drift.measured is None else kept_figures(drift.measured)
    context = {
        "stock": stock,
        "supplier": supplier,
        "drift": drift,
        "figures": figures,
        "changes": changes,
        "choice": choice,
        "refused": refused,
        "back_url": _address("drift_stock", stock, supplier),
    }
    return render(request, "orders/drift/drift_adopt.html", context, status=status)


def _changes(
    request: HttpRequest, stock: BaseStock, drift: StockDrift
) -> tuple[list[MarginChange], BlendChoice | None]:
    """Of the blend that was chosen, or of the most ordered; none without a measured spread."""
    if drift.measured is None:
        return [], None
    blends = blends_with(stock, _MOST_BLENDS)
    choice = BlendChoice(request.GET, blends=blends)
    wanted = choice.cleaned_data["blend"] if choice.is_valid() else ""
    shown = [each for each in blends if each.blend.pk == wanted] or blends[:SHOWN_BLENDS]
    before = assay_spread(drift.assumed.strength_rsd_pct, drift.assumed.total_n_rsd_pct)
    after = assay_spread(*kept_figures(drift.measured))
    return [margin_change(each, stock, before, after) for each in shown], choice


def _stock(code: str) -> BaseStock:
    stocks = BaseStock.objects.prefetch_related("analysis_figures")
    return get_object_or_404(stocks, code=code)


def _address(route: str, stock: BaseStock, supplier: str | None) -> str:
    asked = "" if supplier is None else f"?{urlencode({_SUPPLIER: supplier})}"
    return reverse(route, args=[stock.code]) + asked
