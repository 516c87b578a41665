"""What a customer sets for itself: its addresses, and what it is mailed."""

from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.utils.translation import gettext as _
from django.views.decorators.http import require_http_methods, require_safe

from blendshop.accounts.signed_in import signed_in
from blendshop.roles import Role, role_required
from orders.customers.actions import (
    add_own_ship_to,
    change_own_ship_to,
    require_may_change_places,
    set_mails,
)
from orders.customers.forms import MailsForm, OwnPlaceChangeForm, OwnPlaceForm
from orders.models import ShipTo
from orders.records.forms import Refusals


@role_required(Role.CUSTOMER)
@require_safe
def own_places(request: HttpRequest) -> HttpResponse:
    """The company's addresses; those that wait for the plant say so."""
    user = signed_in(request)
    places = ShipTo.objects.filter(company=user.company_id)
    context = {"places": places, "may_change": user.may_order}
    return render(request, "orders/portal/own_places.html", context)


@role_required(Role.CUSTOMER)
@require_http_methods(["GET", "HEAD", "POST"])
def own_place(request: HttpRequest, pk: int | None = None) -> HttpResponse:
    """Add an address, or change name and street of one."""
    user = signed_in(request)
    company = require_may_change_places(user)
    ship_to = get_object_or_404(ShipTo, company=company, pk=pk) if pk else None
    sent = request.POST if request.method == "POST" else None
    if ship_to:
        form: OwnPlaceForm | OwnPlaceChangeForm = OwnPlaceChangeForm(sent, instance=ship_to)
    else:
        form = OwnPlaceForm(sent, instance=ShipTo(company=company))
    refusals = Refusals(form)

    def save(typed: dict[str, str]) -> None:
        if pk:
            # Read again: the form has written on the row it was given.
            row = ShipTo.objects.select_related("company", "zone").get(pk=pk)
            change_own_ship_to(acting_user=user, ship_to=row, **typed)
        else:
            add_own_ship_to(acting_user=user, **typed)

    if request.method == "POST" and refusals.taken(save):
        told = _("The address {label} is saved.")
        if not pk:
            told = _("{label} is with us; we set the freight, then you can order to it.")
        messages.success(request, told.format(label=form.cleaned_data["label"]))
        return redirect("own_places")
    status = refusals.status if request.method == "POST" else 200
    context = {"form": form, "ship_to": ship_to}
    return render(request, "orders/portal/own_place.html", context, status=status)


@role_required(Role.CUSTOMER)
@require_http_methods(["GET", "HEAD", "POST"])
def own_mails(request: HttpRequest) -> HttpResponse:
    """A few switches; what a person must know is mailed anyway."""
    user = signed_in(request)
    columns = ("quotes", "orders", "shipping")
    now = {name: getattr(user, f"mailed_{name}") for name in columns}
    form = MailsForm(request.POST if request.method == "POST" else None, initial=now)
    if request.method == "POST" and form.is_valid():
        set_mails(acting_user=user, **form.cleaned_data)
        messages.success(request, _("Saved."))
        return redirect("own_mails")
    return render(request, "orders/portal/own_mails.html", {"form": form})
