"""What was ordered from suppliers: written down, changed, called off; room for a stock."""

from __future__ import annotations

from datetime import timedelta
from typing import Any

from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.utils import timezone
from django.utils.translation import gettext as _
from django.views.decorators.http import require_http_methods, require_POST

from blendshop.accounts.signed_in import signed_in
from blendshop.figures.readers import reader
from blendshop.roles import role_required
from formulas.models import BaseStock
from orders.buying.actions import (
    BUYERS,
    call_off_purchase,
    change_purchase,
    save_storage,
    write_down_purchase,
)
from orders.buying.asked import asked_of
from orders.buying.forms import ChangedPurchaseForm, PurchaseForm, StorageForm
from orders.buying.proposal import Proposal
from orders.buying.purchase_list import plain_pounds
from orders.models import StockPurchase
from orders.records.forms import Refusals, require_valid


@role_required(*BUYERS)
@require_http_methods(["GET", "HEAD", "POST"])
def purchase_new(request: HttpRequest, code: str) -> HttpResponse:
    """Write down what was ordered, with what the list proposes filled in."""
    stock = get_object_or_404(BaseStock, code=code)
    user = signed_in(request)
    if request.method != "POST":
        proposal = asked_of(request)[1].of_stock(code)
        form = PurchaseForm(initial=_proposed(proposal))
        return _page(request, form, stock, None)
    form = PurchaseForm(request.POST)
    refusals = Refusals(form)
    if refusals.taken(lambda typed: write_down_purchase(acting_user=user, stock=stock, **typed)):
        messages.success(
            request,
            _("{lb} of {stock} are written down as ordered.").format(
                lb=reader().weighed(form.cleaned_data["lb"]), stock=stock.name
            ),
        )
        return redirect("buying")
    return _page(request, form, stock, None, status=refusals.status)


def _proposed(proposal: Proposal | None) -> dict[str, Any]:
    today = timezone.localdate()
    if proposal is None or not proposal.parts:
        return {"expected_on": today}
    terms = proposal.terms
    lead = timedelta(days=terms.lead_days if terms else 0)
    return {
        "supplier": terms.supplier if terms else "",
        "lb": plain_pounds(proposal.parts[0].lb),
        "expected_on": today + lead,
    }


@role_required(*BUYERS)
@require_http_methods(["GET", "HEAD", "POST"])
def purchase_change(request: HttpRequest, pk: int) -> HttpResponse:
    """Another day or weight."""
    row = get_object_or_404(StockPurchase.objects.select_related("stock"), pk=pk)
    user = signed_in(request)
    if request.method != "POST":
        form = ChangedPurchaseForm(
            initial={
                "lb": plain_pounds(row.lb),
                "expected_on": row.expected_on,
                "note": row.note,
            }
        )
        return _page(request, form, row.stock, row)
    form = ChangedPurchaseForm(request.POST)
    refusals = Refusals(form)
    if refusals.taken(lambda typed: change_purchase(acting_user=user, purchase=row, **typed)):
        messages.success(request, _("The purchase is changed."))
        return redirect("buying")
    return _page(request, form, row.stock, row, status=refusals.status)


@role_required(*BUYERS)
@require_POST
def purchase_call_off(request: HttpRequest, pk: int) -> HttpResponse:
    """It will not come."""
    row = get_object_or_404(StockPurchase.objects.select_related("stock"), pk=pk)
    call_off_purchase(acting_user=signed_in(request), purchase=row)
    messages.success(request, _("{stock} is called off.").format(stock=row.stock.name))
    return redirect("buying")


@role_required(*BUYERS)
@require_POST
def stock_storage(request: HttpRequest, code: str) -> HttpResponse:
    """How much of a stock there is room for."""
    stock = get_object_or_404(BaseStock, code=code)
    most_lb = require_valid(StorageForm(request.POST))["most_lb"]
    save_storage(acting_user=signed_in(request), stock=stock, most_lb=most_lb)
    messages.success(request, _("The storage is saved."))
    return redirect("buying_stock", code)


def _page(
    request: HttpRequest,
    form: PurchaseForm | ChangedPurchaseForm,
    stock: BaseStock,
    row: StockPurchase | None,
    *,
    status: int = 200,
) -> HttpResponse:
    context = {"form": form, "stock": stock, "row": row}
    return render(request, "orders/buying/purchase.html", context, status=status)
