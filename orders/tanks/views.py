"""Pages of the tanks: what is in each, its ledger, and the forms that write it."""

from typing import Final

from django.contrib import messages
from django.core.paginator import Paginator
from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.utils.translation import gettext as _
from django.views.decorators.http import require_POST, require_safe

from blendshop.accounts.signed_in import signed_in
from blendshop.roles import STAFF, has_role, role_required
from orders.models import Tank
from orders.records.forms import require_valid
from orders.tanks.actions.draining import drain_tank
from orders.tanks.actions.ledger import WRITERS
from orders.tanks.actions.looking import Looked, look_and_sign
from orders.tanks.actions.rinsing import Rinse, record_rinse
from orders.tanks.forms import DrainForm, LookForm, RinseForm
from orders.tanks.heel import HEEL_BASIS, newest_entry
from orders.tanks.page import says, tank_now, tanks_now

ENTRIES_A_PAGE: Final = 50


@role_required(*STAFF)
@require_safe
def tank_list(request: HttpRequest) -> HttpResponse:
    """Every tank in use and what is in it."""
    return render(request, "orders/tanks/tank_list.html", {"tanks": tanks_now()})


@role_required(*STAFF)
@require_safe
def tank_detail(request: HttpRequest, pk: int) -> HttpResponse:
    """What is in one tank, how it came there, and what to do about it."""
    tank = get_object_or_404(Tank, pk=pk)
    entries = tank.ledger.select_related("batch", "rinse__lot").order_by("-pk")
    page = Paginator(entries, ENTRIES_A_PAGE).get_page(request.GET.get("page"))
    context = {
        "tank": tank,
        "now": tank_now(tank, newest_entry(tank)),
        "page": page,
        "entries": [(entry, says(entry, entry.held)) for entry in page.object_list],
        "heel_basis": HEEL_BASIS,
        "may_write": has_role(signed_in(request), *WRITERS),
        "look_form": LookForm(auto_id="look_%s"),
        "drain_form": DrainForm(auto_id="drain_%s"),
        "rinse_form": RinseForm(auto_id="rinse_%s"),
    }
    return render(request, "orders/tanks/tank_detail.html", context)


@role_required(*WRITERS)
@require_POST
def tank_sign(request: HttpRequest, pk: int) -> HttpResponse:
    tank = get_object_or_404(Tank, pk=pk)
    wanted = dict(require_valid(LookForm(request.POST)))
    key = wanted.pop("key")
    look_and_sign(tank=tank, looked=Looked(**wanted), key=key, acting_user=signed_in(request))
    messages.success(request, _("Signed what is in %(tank)s.") % {"tank": tank.name})
    return redirect("tank_detail", pk)


@role_required(*WRITERS)
@require_POST
def tank_drain(request: HttpRequest, pk: int) -> HttpResponse:
    tank = get_object_or_404(Tank, pk=pk)
    wanted = require_valid(DrainForm(request.POST))
    drain_tank(
        tank=tank,
        heel_gal=wanted["heel_gal"],
        note=wanted["note"],
        key=wanted["key"],
        acting_user=signed_in(request),
    )
    messages.success(request, _("%(tank)s is drained to its heel.") % {"tank": tank.name})
    return redirect("tank_detail", pk)


@role_required(*WRITERS)
@require_POST
def tank_rinse(request: HttpRequest, pk: int) -> HttpResponse:
    tank = get_object_or_404(Tank, pk=pk)
    wanted = dict(require_valid(RinseForm(request.POST)))
    key = wanted.pop("key")
    rinse = record_rinse(tank=tank, rinse=Rinse(**wanted), key=key, acting_user=signed_in(request))
    told = _("%(tank)s is empty and rinsed.") % {"tank": tank.name}
    if rinse.lot is not None:
        kept = _("The water is lot %(lot)s, held until it is assayed.") % {"lot": rinse.lot.code}
        told = f"{told} {kept}"
    messages.success(request, told)
    return redirect("tank_detail", pk)
