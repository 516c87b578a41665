"""What rounds of standing orders that wait will take of each stock, by their recipes.

No order of the plant and no part of its needs yet; shown beside them, so that nobody sells twice
what a season has spoken for.
"""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date

from django.db.models import Case, F, FloatField, Min, Sum, Value, When
from django.db.models.functions import Cast

from orders.inventory.levels import FROM_THE_MAIN
from orders.models import StandingRound


@dataclass(frozen=True, slots=True)
class ReservedStock:
    """Pounds of one stock in all rounds that wait, and the day of the first of them."""

    code: str
    name: str
    lb: float
    first_on: date


def reserved_stocks() -> list[ReservedStock]:
    """Every stock that waiting rounds will take, the most first; one query.

    Pounds are gallons at the revision's density times the stock's share. Water is left out: it
    comes from the main.
    """
    gallons = Case(
        When(package__kind="bulk", then=Cast("quantity", FloatField())),
        default=Cast("quantity", FloatField()) * Cast("package__fill_gal", FloatField()),
        output_field=FloatField(),
    )
    lb = gallons * F("revision__density_lb_per_gal") * F("revision__lines__pct") / Value(100.0)
    waiting = StandingRound.objects.waiting().filter(revision__lines__pct__gt=0)
    rows = (
        waiting.exclude(revision__lines__stock__traits__code=FROM_THE_MAIN)
        .order_by()
        .values_list("revision__lines__stock__code", "revision__lines__stock__name")
        .annotate(lb=Sum(lb, output_field=FloatField()), first_on=Min("wanted_on"))
        .order_by("-lb", "revision__lines__stock__code")
    )
    return [ReservedStock(*row) for row in rows]
