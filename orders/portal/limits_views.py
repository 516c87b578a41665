"""Pages of the office: what each customer may order by itself, and who may order for it."""

from typing import Any

from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.utils.translation import gettext as _
from django.views.decorators.http import require_http_methods, require_POST, require_safe

from blendshop.accounts.security_log import address_of
from blendshop.accounts.signed_in import signed_in
from blendshop.pages import page_of
from blendshop.roles import Role, role_required
from orders.customers.actions import confirm_limits, set_limits, set_may_order, show_recipes
from orders.customers.forms import LimitsForm
from orders.models import OrderLimits
from orders.portal.limits_page import customers_by_limits, size_so_far, with_limits
from orders.records.access import get_customer_for
from orders.records.forms import Refusals

CUSTOMERS_A_PAGE = 40


@role_required(Role.OFFICE)
@require_safe
def limits_list(request: HttpRequest) -> HttpResponse:
    """Companies whose limits nobody has confirmed; ``?all=1`` for every one."""
    shows_all = "all" in request.GET
    page = page_of(
        customers_by_limits(to_confirm=not shows_all),
        request.GET.get("page"),
        per_page=CUSTOMERS_A_PAGE,
        read=with_limits,
    )
    return render(request, "orders/portal/limits_list.html", {"page": page, "shows_all": shows_all})


@role_required(Role.OFFICE)
@require_http_methods(["GET", "HEAD", "POST"])
def customer_limits(request: HttpRequest, pk: int) -> HttpResponse:
    """The limits of one company beside what it has ordered so far."""
    user = signed_in(request)
    company = get_customer_for(user, pk)
    limits = OrderLimits.objects.filter(company=company).first() or OrderLimits(company=company)
    sent = request.POST if request.method == "POST" else None
    form = LimitsForm(sent, instance=limits, initial={"sees_recipe": company.sees_recipe})
    refusals = Refusals(form)

    def save(wanted: dict[str, Any]) -> None:
        sees_recipe = bool(wanted.pop("sees_recipe"))
        set_limits(acting_user=user, company=company, **wanted)
        show_recipes(acting_user=user, company=company, sees_recipe=sees_recipe)

    if request.method == "POST" and refusals.taken(save):
        messages.success(request, _("The limits of {company} are set.").format(company=company))
        return redirect("customer_detail", pk)
    context = {"form": form, "company": company, "so_far": size_so_far(company)}
    status = refusals.status if request.method == "POST" else 200
    return render(request, "orders/portal/customer_limits.html", context, status=status)


@role_required(Role.OFFICE)
@require_POST
def customer_limits_confirm(request: HttpRequest, pk: int) -> HttpResponse:
    """The figures the plant began with are right; on with the list."""
    user = signed_in(request)
    company = get_customer_for(user, pk)
    confirm_limits(acting_user=user, company=company)
    messages.success(request, _("The limits of {company} are confirmed.").format(company=company))
    return redirect("limits_list")


@role_required(Role.OFFICE)
@require_POST
def customer_may_order(request: HttpRequest, pk: int, person_pk: int) -> HttpResponse:
    """One of its people may order, or may only look."""
    user = signed_in(request)
    company = get_customer_for(user, pk)
    person = get_object_or_404(company.people, pk=person_pk)
    may_order = request.POST.get("may_order") == "yes"
    set_may_order(acting_user=user, person=person, may_order=may_order, address=address_of(request))
    told = _("{person} may order.") if may_order else _("{person} may look and not order.")
    messages.success(request, told.format(person=person))
    return redirect("customer_detail", pk)
