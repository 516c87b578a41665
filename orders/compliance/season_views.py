"""The season plan: a list of days and rates of a saved blend against the law of the place."""

from __future__ import annotations

from django.http import HttpRequest, HttpResponse
from django.shortcuts import render
from django.views.decorators.http import require_safe

from blendshop.accounts.signed_in import signed_in
from blendshop.roles import BLENDS, role_required
from formulas.access import get_revision_for
from formulas.models import Blend
from orders.compliance.questions import FIRST, MORE
from orders.compliance.season_plan import SeasonForm, SeasonPlan, season_plan


@require_safe
@role_required(*BLENDS)
def season_plan_page(request: HttpRequest) -> HttpResponse:
    """The plan of ``?revision=``; without one, the blends that can be planned."""
    user, data = signed_in(request), request.GET
    if "revision" not in data:
        blends = Blend.objects.visible_to(user).filter(archived=False)
        rows = [(blend, blend.revisions.first()) for blend in blends.prefetch_related("revisions")]
        found = [(blend, revision) for blend, revision in rows if revision is not None]
        return render(request, "orders/compliance/season_choice.html", {"blends": found})
    revision = get_revision_for(user, data["revision"])
    form = SeasonForm(data, user=user, revision=revision)
    valid = form.is_valid()
    plan = season_plan(form, revision) if valid and form.is_begun else SeasonPlan()
    context = {
        "revision": revision,
        "form": form,
        "plan": plan,
        "rows": [(form[f"day_{row}"], form[f"rate_{row}"]) for row in range(form.row_count)],
        "questions": [form[question.field] for question in (*FIRST, *MORE)
                      if question.name not in _BY_THE_PLAN],
        "slips": [(name, errors) for name, errors in form.errors.items()],
    }  # fmt: skip
    return render(request, "orders/compliance/season_plan.html", context)


#: Answers that a plan of several days gives by itself or that belong to one day's weather.
_BY_THE_PLAN = frozenset({"frozen_or_snow", "saturated", "heavy_rain_expected", "storm_warning"})
