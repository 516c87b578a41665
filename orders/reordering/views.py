"""Reorder pages: what it would be today is shown, and one click confirms what was shown."""

import uuid
from collections.abc import Mapping

from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.utils.translation import gettext as _
from django.views.decorators.http import require_http_methods, require_safe

from blendshop.accounts.models import User
from blendshop.accounts.signed_in import signed_in
from blendshop.errors import BadInput, ChangedMeanwhile, IllegalMove
from blendshop.roles import Role, has_role, role_required
from formulas.access import get_blend_for
from orders.models import Order
from orders.ordering.actions import require_may_order_for
from orders.ordering.forms import ReorderForm
from orders.planning.due_dates import FROM_STOCK
from orders.records.access import get_order_for
from orders.records.forms import show_refusal
from orders.reordering.actions import REORDERERS, SaidBeside, change_order, confirm_reorder
from orders.reordering.changing import changed_order, why_not_changed
from orders.reordering.forms import BesideForm, QuantitiesForm
from orders.reordering.gate import why_request
from orders.reordering.preview import Reorder
from orders.reordering.sources import reorder_of_blend, reorder_of_order, usual_terms


@role_required(*REORDERERS)
@require_http_methods(["GET", "HEAD", "POST"])
def reorder_blend(request: HttpRequest, pk: int) -> HttpResponse:
    user = signed_in(request)
    blend = get_blend_for(user, pk)
    company = user.company if not has_role(user, Role.REP, Role.OFFICE) else blend.company
    usual = usual_terms(blend, company)
    data = (
        request.POST
        or request.GET
        or (usual if len(usual) == len(ReorderForm.base_fields) else None)
    )
    form = ReorderForm(data, initial=usual, user=user, company=company)
    reorder = reorder_of_blend(blend, **form.cleaned_data) if form.is_valid() else None
    context = {"form": form, "title": _("Order {name}").format(name=blend.name), "blend": blend}
    if request.method == "POST" and reorder is not None:
        return _confirmed(request, user, reorder, context)
    return _shown(request, reorder, context)


@role_required(*REORDERERS)
@require_http_methods(["GET", "HEAD", "POST"])
def reorder_order(request: HttpRequest, number: str) -> HttpResponse:
    user = signed_in(request)
    order = get_order_for(user, number)
    reorder = reorder_of_order(order)
    context = {"form": None, "title": _("Reorder {name}").format(name=order.number), "order": order}
    if request.method == "POST":
        return _confirmed(request, user, reorder, context)
    return _shown(request, reorder, context)


@role_required(*REORDERERS)
@require_safe
def reorder_price(request: HttpRequest, number: str) -> HttpResponse:
    """What the order comes to again today, for a card that leads to ``reorder_order``."""
    order = get_order_for(signed_in(request), number)
    try:
        price = reorder_of_order(order).price
    except BadInput:  # which the page it leads to says in full
        price = None
    return render(request, "orders/reordering/partials/price_today.html", {"price": price})


@role_required(Role.CUSTOMER)
@require_http_methods(["GET", "HEAD", "POST"])
def order_change(request: HttpRequest, number: str) -> HttpResponse:
    """Other quantities of an own order: priced first, then confirmed as shown."""
    user = signed_in(request)
    order = get_order_for(user, number)
    require_may_order_for(user, order.company)
    if told := why_not_changed(order):
        raise IllegalMove(told)
    asked = request.POST if request.method == "POST" else request.GET
    form = QuantitiesForm(asked or None, order=order)
    offer = changed_order(order, form.quantities) if form.is_valid() else None
    context = {
        "form": None,
        "quantities": form,
        "title": _("Change {name}").format(name=order.number),
        "order": order,
        "but": order,
    }
    if request.method != "POST" or offer is None:
        return _shown(request, offer, context)
    try:
        change_order(
            order=order,
            quantities=form.quantities,
            acting_user=user,
            seen_digest=request.POST.get("seen", ""),
        )
    except ChangedMeanwhile as changed:
        return _shown(request, offer, {**context, "changed": changed.message}, status=409)
    messages.success(request, _("{number} is changed.").format(number=number))
    return redirect("order_detail", number)


def _confirmed(
    request: HttpRequest, user: User, reorder: Reorder, context: Mapping[str, object]
) -> HttpResponse:
    beside = BesideForm(request.POST)
    context = {**context, "beside": beside}
    if not beside.is_valid():
        return _shown(request, reorder, context, status=400)
    try:
        made = confirm_reorder(
            reorder=reorder,
            acting_user=user,
            seen_digest=request.POST.get("seen", ""),
            once=request.POST.get("once", ""),
            terms=SaidBeside(**beside.cleaned_data),
        )
    except BadInput as refused:
        show_refusal(beside, refused)
        return _shown(request, reorder, context, status=refused.status)
    except ChangedMeanwhile as changed:
        # Shown again with today's figures, so that the next click confirms those.
        return _shown(request, reorder, {**context, "changed": changed.message}, status=409)
    if isinstance(made, Order):
        told = _("Thank you. Order {number} is confirmed.")
        if made.status == Order.Status.REQUESTED:
            told = _("Thank you. {number} is with us as a request; we mail you what is decided.")
        messages.success(request, told.format(number=made.number))
        return redirect("order_detail", made.number)
    messages.success(
        request, _("Quote {number} is drafted with today's prices.").format(number=made.number)
    )
    return redirect("quote_detail", made.number)


def _shown(
    request: HttpRequest, reorder: Reorder | None, context: Mapping[str, object], status: int = 200
) -> HttpResponse:
    user = signed_in(request)
    drafts = has_role(user, Role.REP, Role.OFFICE)
    but = context.get("but")
    held = []
    if reorder is not None and not drafts:
        held = list(why_request(reorder, but=but if isinstance(but, Order) else None))
    shown = {
        "beside": BesideForm(),
        **context,
        "held": held,
        "may_order": drafts or user.may_order,
        "from_stock": FROM_STOCK,
        "reorder": reorder,
        "drafts": drafts,
        "once": uuid.uuid4().hex,
    }
    return render(request, "orders/reordering/reorder_preview.html", shown, status=status)
