"""Which rounds of standing orders want a stock, one by one."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date
from decimal import Decimal

from formulas.models import BaseStock
from orders.buying.expected import Horizon
from orders.models import StandingRound
from orders.planning.actions.reservations import needed_lb


@dataclass(frozen=True, slots=True)
class WantedByRound:
    """Pounds of a stock that a round takes if it is released."""

    number: str
    customer: str
    name: str
    day: date
    lb: Decimal


def rounds_of_stock(stock: BaseStock, horizon: Horizon) -> list[WantedByRound]:
    """Those of the horizon, the earliest first; one query."""
    rows = (
        StandingRound.objects.wanted()
        .filter(wanted_on__lt=horizon.end, revision__lines__stock=stock)
        .order_by("wanted_on", "pk")
        .values_list(
            "standing_order__number", "standing_order__company__name", "name", "wanted_on",
            "mass_lb", "revision__lines__pct",
        )
    )  # fmt: skip
    return [
        WantedByRound(number, customer, name, day, needed_lb(blend_lb, pct))
        for number, customer, name, day, blend_lb, pct in rows
    ]
