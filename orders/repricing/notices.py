"""What people of the plant are told of costs that are in force."""

from __future__ import annotations

from collections import defaultdict
from typing import TYPE_CHECKING, Final

from django.db.models import F
from django.urls import reverse
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy

from blendshop.notices.actions import Cause, people_of, tell
from blendshop.notices.kinds import Kind, register
from blendshop.roles import Role
from orders.models import QuoteMargin

if TYPE_CHECKING:
    from django.db.models import QuerySet

    from orders.models import Quote

BELOW_FLOOR: Final = register(
    Kind(
        "below_floor",
        gettext_lazy("Open quote below the floor at new costs"),
        frozenset({Role.REP, Role.OFFICE}),
        many=gettext_lazy("{count} open quotes are below the floor at new costs: {names}"),
        many_link="open_quote_margins",
    )
)


def tell_below_floor(open_quotes: QuerySet[Quote]) -> None:
    """Office and rep, once of each quote that was above the floor at its own costs."""
    rows = QuoteMargin.objects.filter(
        quote__in=open_quotes, is_below_floor=True, margin_pct_then__gte=F("floor_pct")
    )
    causes = defaultdict(list)
    for number, rep in rows.order_by("pk").values_list("quote__number", "quote__created_by"):
        causes[rep].append(_cause(number))
    office = people_of(Role.OFFICE)
    tell(BELOW_FLOOR, office, *(each for own in causes.values() for each in own), by=None)
    reps = people_of(Role.REP).exclude(pk__in=office.values("pk"))
    for rep, own in sorted(causes.items()):
        tell(BELOW_FLOOR, reps.filter(pk=rep), *own, by=None)


def _cause(number: str) -> Cause:
    return Cause(
        key=number,
        name=number,
        text=_("{number} is below the floor at new costs.").format(number=number),
        link=reverse("quote_detail", args=[number]),
        about=("quote", number),
    )
