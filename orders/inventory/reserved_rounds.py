"""What rounds of standing orders that are in no open order yet take of each stock, by recipe.

No order of the plant and no part of its needs yet; shown beside them, so that nobody sells twice
what a season has spoken for.
"""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date
from typing import Any

from django.db.models import Case, ExpressionWrapper, F, FloatField, Min, Sum, Value, When
from django.db.models.functions import Cast

from formulas.models import BaseStock
from orders.inventory.levels import FROM_THE_MAIN
from orders.models import Package, StandingRound


@dataclass(frozen=True, slots=True)
class ReservedStock:
    """Pounds of one stock in all rounds still wanted, and the day of the first of them."""

    code: str
    name: str
    lb: float
    first_on: date


def blend_lb_of_round() -> ExpressionWrapper[Any]:
    """Pounds of a round's blend: packages at their fill (in bulk gallons) times its density."""
    gallons = Case(
        When(package__kind=Package.Kind.BULK, then=Value(1.0)),
        default=Cast("package__fill_gal", FloatField()),
        output_field=FloatField(),
    )
    lb = F("quantity") * gallons * F("revision__density_lb_per_gal")
    return ExpressionWrapper(lb, output_field=FloatField())


def reserved_stocks() -> list[ReservedStock]:
    """Every stock that wanted rounds will take, the most first; one query.

    Pounds are the blend's by the revision's density times the stock's share. Water is left out: it
    comes from the main.
    """
    brought = BaseStock.objects.exclude(traits__code=FROM_THE_MAIN)
    lb = blend_lb_of_round() * F("revision__lines__pct") / Value(100.0)
    rows = (
        StandingRound.objects.wanted()
        .filter(revision__lines__pct__gt=0, revision__lines__stock__in=brought)
        .order_by()
        .values_list("revision__lines__stock__code", "revision__lines__stock__name")
        .annotate(lb=Sum(lb, output_field=FloatField()), first_on=Min("wanted_on"))
        .order_by("-lb", "revision__lines__stock__code")
    )
    return [ReservedStock(*row) for row in rows]
