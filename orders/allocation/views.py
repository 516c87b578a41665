"""The plan of scarce stock: shown to staff, accepted by the formulator or the office."""

from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.urls import reverse
from django.utils import timezone
from django.utils.translation import gettext as _
from django.views.decorators.http import require_POST, require_safe
from django_htmx.http import HttpResponseClientRedirect
from django_htmx.middleware import HtmxDetails

from blendshop.accounts.signed_in import signed_in
from blendshop.errors import ChangedMeanwhile
from blendshop.roles import STAFF, has_role, role_required
from orders.allocation.actions import ACCEPTERS, accept_stock_plan, restore_accepted_recipe
from orders.allocation.page import stock_plan_page
from orders.allocation.plan_state import plan_state
from orders.allocation.planning_work import begin_planning, newest_plan
from orders.inventory.reserved_rounds import reserved_stocks
from orders.records.access import get_order_for
from orders.records.forms import ReasonForm, require_valid


@role_required(*STAFF)
@require_safe
def stock_plan(request: HttpRequest) -> HttpResponse:
    """What can be made now, what a change would free, what to buy: as it was found last."""
    return _page(request)


@role_required(*STAFF)
@require_POST
def stock_plan_again(request: HttpRequest) -> HttpResponse:
    """Have the plan of now worked out; its progress leads back here."""
    return _planned(request)


@role_required(*ACCEPTERS)
@require_POST
def stock_plan_accept(request: HttpRequest) -> HttpResponse:
    """Accept what was shown; what has changed since has to be planned and seen first."""
    digest = request.POST.get("digest", "")
    try:
        plan = accept_stock_plan(digest=digest, acting_user=signed_in(request))
    except ChangedMeanwhile as stale:
        return _page(request, stale=stale.message, status=stale.status)
    messages.success(request, _("Accepted as {number}.").format(number=plan.number))
    return _planned(request)


@role_required(*ACCEPTERS)
@require_POST
def stock_plan_restore_recipe(request: HttpRequest, number: str, position: int) -> HttpResponse:
    """Have a line made by its accepted recipe again."""
    order = get_order_for(signed_in(request), number)
    line = get_object_or_404(
        order.lines.select_related("revision__blend", "order"), position=position
    )
    why = require_valid(ReasonForm(request.POST))["why"]
    restore_accepted_recipe(line=line, why=why, acting_user=signed_in(request))
    messages.success(request, _("{line} is made by the accepted recipe again.").format(line=line))
    return _planned(request)


def _planned(request: HttpRequest) -> HttpResponse:
    """To the plan if it is current, else to the progress of working it out."""
    plan = newest_plan()
    if plan is not None and plan.state == plan_state(timezone.localdate()):
        address = reverse("stock_plan")
    else:
        address = reverse("work_detail", args=[begin_planning(signed_in(request)).pk])
    if HtmxDetails(request):
        return HttpResponseClientRedirect(address)
    return redirect(address)


def _page(request: HttpRequest, *, stale: str = "", status: int = 200) -> HttpResponse:
    context = {
        "page": stock_plan_page(
            request.GET.get("page"), all_stocks=request.GET.get("stocks") == "all"
        ),
        "today": timezone.localdate(),
        "reserved": reserved_stocks(),
        "stale": stale,
        "may_accept": has_role(request.user, *ACCEPTERS),
    }
    return render(request, "orders/allocation/stock_plan.html", context, status=status)
