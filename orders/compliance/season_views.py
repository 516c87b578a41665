"""The season plan: a list of days and rates of a saved blend against the law of the place."""

from __future__ import annotations

from typing import Final

from django.db.models import OuterRef, QuerySet, Subquery
from django.http import HttpRequest, HttpResponse
from django.shortcuts import render
from django.views.decorators.http import require_safe

from blendshop.accounts.signed_in import signed_in
from blendshop.pages import page_of
from blendshop.roles import BLENDS, role_required
from blendshop.searched_rows import is_key, options_page, typed_words
from formulas.access import get_revision_for
from formulas.blends.search import search_blends
from formulas.models import Blend, BlendRevision
from orders.compliance.questions import FIRST, MORE
from orders.compliance.season_plan import (
    SeasonForm,
    SeasonPlan,
    season_plan,
    season_ship_tos,
    ship_to_words,
)
from orders.records.ship_tos import ship_tos_at

BLENDS_A_PAGE: Final = 25


@require_safe
@role_required(*BLENDS)
def season_plan_page(request: HttpRequest) -> HttpResponse:
    """The plan of ``?revision=``; without one, the blends that can be planned."""
    user, data = signed_in(request), request.GET
    if "revision" not in data:
        words = data.get("q", "").strip()[:80]
        page = page_of(
            search_blends(user, words=words),
            data.get("page"),
            per_page=BLENDS_A_PAGE,
            read=_with_newest_revision,
        )
        found = {"page": page, "words": words}
        return render(request, "orders/compliance/season_choice.html", found)
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


@require_safe
@role_required(*BLENDS)
def season_ship_to_options(request: HttpRequest) -> HttpResponse:
    """Where a blend of ``?company=``, or of the plant's book, may be sprayed, as far as it fits."""
    asked = request.GET.get("company", "")
    company = int(asked) if is_key(asked) else None
    places = season_ship_tos(signed_in(request), company)
    fitting = ship_tos_at(places, typed_words(request))
    return options_page(request, fitting, ship_to_words(company), among=places)


def _with_newest_revision(blends: QuerySet[Blend]) -> QuerySet[Blend]:
    newest = BlendRevision.objects.filter(blend=OuterRef("pk")).order_by("-number")
    return blends.annotate(
        newest=Subquery(newest.values("pk")[:1]),
        grade=Subquery(newest.values("grade")[:1]),
        slow_pct=Subquery(newest.values("slow_release_pct")[:1]),
        saved_at=Subquery(newest.values("created_at")[:1]),
    )


#: Answers that a plan of several days gives by itself or that belong to one day's weather.
_BY_THE_PLAN = frozenset({"frozen_or_snow", "saturated", "heavy_rain_expected", "storm_warning"})
