"""What rounds of standing orders that are in no open order yet take of each stock, by recipe.

No order of the plant and no part of its needs yet; shown beside them, so that nobody sells twice
what a season has spoken for.
"""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date

from django.db.models import F, FloatField, Min, Sum, Value

from formulas.models import BaseStock
from orders.inventory.levels import FROM_THE_MAIN
from orders.models import StandingRound


@dataclass(frozen=True, slots=True)
class ReservedStock:
    """Pounds of one stock in all rounds still wanted, and the day of the first of them."""

    code: str
    name: str
    lb: float
    first_on: date


def reserved_stocks() -> list[ReservedStock]:
    """Every stock that wanted rounds will take, the most first; one query.

    Pounds are the round's times the stock's share, as an order of it reserves them. Water is left
    out: it comes from the main.
    """
    brought = BaseStock.objects.exclude(traits__code=FROM_THE_MAIN)
    lb = F("mass_lb") * F("revision__lines__pct") / Value(100.0)
    rows = (
        StandingRound.objects.wanted()
        .filter(revision__lines__pct__gt=0, revision__lines__stock__in=brought)
        .order_by()
        .values_list("revision__lines__stock__code", "revision__lines__stock__name")
        .annotate(lb=Sum(lb, output_field=FloatField()), first_on=Min("wanted_on"))
        .order_by("-lb", "revision__lines__stock__code")
    )
    return [ReservedStock(*row) for row in rows]
