"""A customer's colleagues: its owner invites them, says what they may do, ends a login."""

from typing import Any

from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.utils.translation import gettext as _
from django.views.decorators.http import require_http_methods, require_POST

from blendshop.accounts.models import User
from blendshop.accounts.security_log import address_of
from blendshop.accounts.signed_in import signed_in
from blendshop.roles import Role, role_required
from orders.customers.actions import (
    invite_colleague,
    require_owner,
    set_login,
    set_may_order,
    set_owner,
)
from orders.customers.forms import ColleagueForm
from orders.records.access import get_customer_for
from orders.records.forms import Refusals


@role_required(Role.CUSTOMER)
@require_http_methods(["GET", "HEAD", "POST"])
def colleagues(request: HttpRequest) -> HttpResponse:
    """Everybody of the company; a post invites one more."""
    user = signed_in(request)
    company = require_owner(user)
    form = ColleagueForm(request.POST if request.method == "POST" else None)
    refusals = Refusals(form)

    def invite(wanted: dict[str, Any]) -> None:
        invite_colleague(acting_user=user, address=address_of(request), **wanted)

    if request.method == "POST" and refusals.taken(invite):
        told = _("{email} is mailed a link that signs in.")
        messages.success(request, told.format(email=form.cleaned_data["email"]))
        return redirect("colleagues")
    context = {"form": form, "company": company, "people": company.people.order_by("name", "pk")}
    status = refusals.status if request.method == "POST" else 200
    return render(request, "orders/portal/colleagues.html", context, status=status)


@role_required(Role.CUSTOMER)
@require_POST
def colleague_may_order(request: HttpRequest, pk: int) -> HttpResponse:
    """A colleague may order, or may only look."""
    user, person = _colleague(request, pk)
    may_order = request.POST.get("may_order") == "yes"
    set_may_order(acting_user=user, person=person, may_order=may_order, address=address_of(request))
    told = _("{person} may order.") if may_order else _("{person} may look and not order.")
    messages.success(request, told.format(person=person))
    return redirect("colleagues")


@role_required(Role.CUSTOMER)
@require_POST
def colleague_login(request: HttpRequest, pk: int) -> HttpResponse:
    """A colleague's login ends, or is opened again."""
    user, person = _colleague(request, pk)
    may_sign_in = request.POST.get("may_sign_in") == "yes"
    set_login(acting_user=user, person=person, may_sign_in=may_sign_in, address=address_of(request))
    told = _("{person} can sign in again.") if may_sign_in else _("{person} can sign in no more.")
    messages.success(request, told.format(person=person))
    return redirect("colleagues")


def _colleague(request: HttpRequest, pk: int) -> tuple[User, User]:
    """The owner who asks, and a person of its company; Http404 for anybody else's."""
    user = signed_in(request)
    return user, get_object_or_404(require_owner(user).people, pk=pk)


@role_required(Role.OFFICE)
@require_POST
def customer_owner(request: HttpRequest, pk: int, person_pk: int) -> HttpResponse:
    """The office says who of a company owns its logins."""
    user = signed_in(request)
    company = get_customer_for(user, pk)
    person = get_object_or_404(company.people, pk=person_pk)
    is_owner = request.POST.get("is_owner") == "yes"
    set_owner(acting_user=user, person=person, is_owner=is_owner, address=address_of(request))
    told = _("{person} is an owner.") if is_owner else _("{person} is no owner any more.")
    messages.success(request, told.format(person=person))
    return redirect("customer_detail", pk)
