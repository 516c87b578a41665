"""From orders to tank loads: what is to be planned, what comes next in each tank."""

from typing import Final

from django.contrib import messages
from django.core.paginator import Paginator
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.utils.translation import gettext as _
from django.views.decorators.http import require_POST, require_safe

from blendshop.accounts.signed_in import signed_in
from blendshop.roles import STAFF, has_role, role_required
from orders.planning.actions.planning import PLANNERS, combine_batches, plan_together
from orders.planning.forms import CombineForm, PlanTogetherForm
from orders.planning.tank_sequence import tank_sequences
from orders.planning.unplanned_lines import blends_to_plan
from orders.records.forms import require_valid
from orders.tanks.heel import HEEL_BASIS

#: The most urgent first: who plans begins with them.
RECIPES_A_PAGE: Final = 15


@role_required(*STAFF)
@require_safe
def tank_planning(request: HttpRequest) -> HttpResponse:
    """Orders to plan by blend, then every tank with the suggested order of its batches."""
    to_plan = Paginator(blends_to_plan(), RECIPES_A_PAGE)
    context = {
        "page": to_plan.get_page(request.GET.get("page")),
        "tanks": tank_sequences(),
        "heel_basis": HEEL_BASIS,
        "may_plan": has_role(signed_in(request), *PLANNERS),
    }
    return render(request, "orders/planning/tank_planning.html", context)


@role_required(*PLANNERS)
@require_POST
def tank_planning_plan(request: HttpRequest) -> HttpResponse:
    """Orders for one blend become common loads of a tank."""
    wanted = require_valid(PlanTogetherForm(request.POST))
    batches = plan_together(
        lines=list(wanted["lines"]), tank=wanted["tank"], acting_user=signed_in(request)
    )
    planned = ", ".join(batch.number for batch in batches)
    messages.success(
        request,
        _("Planned in %(tank)s: %(planned)s.") % {"tank": wanted["tank"].name, "planned": planned},
    )
    return redirect("tank_planning")


@role_required(*PLANNERS)
@require_POST
def tank_planning_combine(request: HttpRequest) -> HttpResponse:
    """Planned batches of one blend become fewer loads."""
    wanted = require_valid(CombineForm(request.POST))
    batches = combine_batches(batches=list(wanted["batches"]), acting_user=signed_in(request))
    messages.success(
        request,
        _("Combined into %(batches)s.") % {"batches": ", ".join(batch.number for batch in batches)},
    )
    return redirect("tank_planning")
