"""From orders to tank loads: what is to be planned, what comes next in each tank."""

from typing import Final

from django.contrib import messages
from django.core.paginator import Paginator
from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.utils.translation import gettext as _
from django.views.decorators.http import require_POST, require_safe

from blendshop.accounts.signed_in import signed_in
from blendshop.roles import STAFF, has_role, role_required
from formulas.engine_bridge import saved_rules
from orders.models import Tank
from orders.planning.actions.planning import PLANNERS, combine_batches, plan_together
from orders.planning.forms import CombineForm, PlanTogetherForm
from orders.planning.recipe_review import unreviewed_keys, waiting_for_review
from orders.planning.tank_sequence import tank_sequence, tank_sequences
from orders.planning.unplanned_lines import offered_to_plan, recipes_to_plan
from orders.records.forms import require_valid
from orders.tanks.heel import HEEL_BASIS

#: The most urgent first: who plans begins with them.
RECIPES_A_PAGE: Final = 10
LINES_AT_ONCE: Final = 12
#: Of each tank what comes next; a page of the tank's own has the rest.
BATCHES_SHOWN: Final = 4
BATCHES_A_PAGE: Final = 30


@role_required(*STAFF)
@require_safe
def tank_planning(request: HttpRequest) -> HttpResponse:
    """Orders to plan by blend, then every tank with the suggested order of its batches.

    ``?recipe=`` shows every order of one recipe.
    """
    recipes, asked = recipes_to_plan(), request.GET.get("recipe", "")
    if asked:
        recipes = [recipe for recipe in recipes if str(recipe.revision.pk) == asked]
    page = Paginator(recipes, RECIPES_A_PAGE).get_page(request.GET.get("page"))
    most = None if asked else LINES_AT_ONCE
    blends = offered_to_plan(page, most_lines=most)
    tanks = [] if asked else tank_sequences()
    shown = [change.batch for tank in tanks for change in tank.changes[:BATCHES_SHOWN]]
    context = {
        "page": page,
        "blends": blends,
        "unreviewed": unreviewed_keys(blend.revision.pk for blend in blends),
        "waiting_for_review": waiting_for_review(shown),
        "is_one_recipe": bool(asked),
        "tanks": tanks,
        "heel_basis": HEEL_BASIS,
        "shown": BATCHES_SHOWN,
        "may_plan": has_role(signed_in(request), *PLANNERS),
    }
    return render(request, "orders/planning/tank_planning.html", context)


@role_required(*STAFF)
@require_safe
def tank_planning_tank(request: HttpRequest, pk: int) -> HttpResponse:
    """All batches of one tank in their suggested order."""
    tank = tank_sequence(get_object_or_404(Tank, pk=pk), saved_rules())
    page = Paginator(tank.changes, BATCHES_A_PAGE).get_page(request.GET.get("page"))
    context = {
        "tank": tank,
        "page": page,
        "waiting_for_review": waiting_for_review(change.batch for change in page),
        "heel_basis": HEEL_BASIS,
        "may_plan": has_role(signed_in(request), *PLANNERS),
    }
    return render(request, "orders/planning/tank_planning_tank.html", context)


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
