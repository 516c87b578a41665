"""From orders to tank loads: what is to be planned, what comes next in each tank."""

from django.contrib import messages
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


@role_required(*STAFF)
@require_safe
def tank_planning(request: HttpRequest) -> HttpResponse:
    """Orders to plan by blend, then every tank with the suggested order of its batches."""
    context = {
        "to_plan": blends_to_plan(),
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
