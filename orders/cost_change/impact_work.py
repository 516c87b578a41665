"""Working out what new costs do as long work: any number of workers share its parts."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

from django.urls import reverse
from django.utils import timezone
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy, ngettext

from blendshop.errors import IllegalMove
from blendshop.figures.readers import reader
from blendshop.long_work.kinds import Assignment, Found, Kind, Outcome, register
from blendshop.roles import SEES_COST
from orders.cost_change.actions.impact import KIND, do_part, finish
from orders.models import CostImpact


def _impact(assignment: Assignment) -> CostImpact:
    asked = CostImpact.objects.select_related("change").filter(pk=assignment.arguments["impact"])
    found: CostImpact | None = asked.first()
    if found is None:
        raise IllegalMove(_("It was worked out anew meanwhile."))
    return found


def _part(assignment: Assignment, number: int) -> Any:
    part = assignment.arguments["parts"][number - 1]
    return do_part(part, _impact(assignment), timezone.localdate())


def _combine(assignment: Assignment, answers: Sequence[Any]) -> Outcome:
    impact = finish(_impact(assignment), answers, timezone.localdate())
    below = impact.quotes.filter(is_below_floor=True).count()
    said = ngettext(
        "{count} open quote is below the floor at the new costs.",
        "{count} open quotes are below the floor at the new costs.",
        below,
    )
    return Outcome(
        says=said.format(count=reader().every_digit(below)), result={"change": impact.change_id}
    )


def _leads_to(work: Found) -> str:
    return reverse("cost_change", args=[work.result["change"]])


COST_IMPACT = register(
    Kind(
        name=KIND,
        title=gettext_lazy("What new costs do"),
        roles=SEES_COST,
        part=_part,
        combine=_combine,
        is_shared=True,
        leads_to=_leads_to,
        begun_at="cost_change_list",
    )
)
