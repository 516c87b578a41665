"""What people of the plant are told of new costs before they are in force."""

from __future__ import annotations

from collections import Counter
from typing import TYPE_CHECKING, Final

from django.db.models import F
from django.urls import reverse
from django.utils.translation import gettext_lazy, ngettext

from blendshop.notices.actions import Cause, people_of, tell
from blendshop.notices.kinds import Kind, register
from blendshop.roles import Role

if TYPE_CHECKING:
    from orders.models import CostImpact

IMPACT: Final = register(
    Kind(
        "cost_impact",
        gettext_lazy("New costs would bring quotes below the floor"),
        frozenset({Role.REP, Role.OFFICE}),
    )
)


def tell_impact(impact: CostImpact) -> None:
    """The office of all quotes that fall below the floor, each rep of its own.

    Quotes below it already at today's costs are no news of this change.
    """
    below = impact.quotes.filter(is_below_floor=True, margin_pct_then__gte=F("floor_pct"))
    of_rep = Counter(below.values_list("quote__created_by", flat=True))
    by = impact.work.asked_by if impact.work else None
    office = people_of(Role.OFFICE)
    if of_rep:
        tell(IMPACT, office, _cause(impact, of_rep.total()), by=by)
    reps = people_of(Role.REP).exclude(pk__in=office.values("pk"))
    for pk, count in sorted(of_rep.items()):
        tell(IMPACT, reps.filter(pk=pk), _cause(impact, count), by=by)


def _cause(impact: CostImpact, count: int) -> Cause:
    change = impact.change
    text = ngettext(
        "{name} would bring {count} open quote below the floor.",
        "{name} would bring {count} open quotes below the floor.",
        count,
    )
    return Cause(
        key=f"{change.pk}:{change.version}:{count}",
        name=change.name,
        text=text.format(name=change.name, count=count),
        link=reverse("cost_change", args=[change.pk]),
        about=("cost_change", str(change.pk)),
    )
