"""What the coming weeks want of each stock, read with as many queries for many as for few."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Mapping
from dataclasses import dataclass
from datetime import date, datetime, time, timedelta
from decimal import Decimal
from typing import Final

from django.db.models import (
    Case,
    IntegerField,
    Q,
    Sum,
    Value,
    When,
)
from django.utils import timezone

from formulas.models import BaseStock
from orders.buying.expected import A_YEAR, ZERO, Booking, Horizon, growth_of
from orders.inventory.levels import Need
from orders.models import Order, OrderLine, StandingRound, StockMovement
from orders.planning.actions.reservations import needed_lb

#: Orders placed in so many weeks up to today are held against those of the same weeks a year ago.
GROWTH_WEEKS: Final = 13
#: What batches took, and what was put right of it.
_CHARGED: Final = (StockMovement.Kind.USED, StockMovement.Kind.ADJUSTED)
_NO_ORDERS: Final = (Order.Status.REQUESTED, Order.Status.CANCELLED, Order.Status.DECLINED)


@dataclass(frozen=True, slots=True)
class Growth:
    """Pounds of orders placed lately and a year ago; ``factor`` is what the range is taken by."""

    placed_lb: Decimal
    year_ago_lb: Decimal

    @property
    def factor(self) -> Decimal:
        return growth_of(self.placed_lb, self.year_ago_lb)


def ordered(needs: Mapping[int, list[Need]]) -> dict[int, tuple[Booking, ...]]:
    """What open orders still take, as the stock levels say it, by stock."""
    return {
        stock: tuple(Booking(need.due_on, need.lb, need.order_number) for need in some)
        for stock, some in needs.items()
    }


def standing(horizon: Horizon) -> dict[int, tuple[Booking, ...]]:
    """What rounds of standing orders take that no open order counts, by stock; one sum a day.

    Pounds by the recipe as it was saved, like the reservation of an order.
    """
    rows = (
        StandingRound.objects.wanted()
        .filter(wanted_on__lt=horizon.end)
        .order_by()
        .values_list("wanted_on", "revision__lines__stock", "revision__lines__pct")
        .annotate(blend_lb=Sum("mass_lb"))
    )
    found: dict[int, dict[date, Decimal]] = defaultdict(dict)
    for day, stock, pct, blend_lb in rows:
        found[stock][day] = found[stock].get(day, ZERO) + needed_lb(blend_lb, pct)
    return {
        stock: tuple(Booking(day, lb) for day, lb in sorted(days.items()))
        for stock, days in found.items()
    }


def charged_a_year_ago(horizon: Horizon) -> dict[int, dict[int, Decimal]]:
    """Pounds that batches took in the same weeks a year ago, by stock and number of the week.

    Of stocks in use; one that was retired since is not bought again.
    """
    starts = [_instant(horizon.first_day(n) - A_YEAR) for n in range(horizon.weeks + 1)]
    week = Case(
        *(When(at__lt=until, then=Value(number)) for number, until in enumerate(starts[1:])),
        output_field=IntegerField(),
    )
    rows = (
        StockMovement.objects.filter(
            batch__isnull=False, kind__in=_CHARGED, at__gte=starts[0], at__lt=starts[-1]
        )
        .filter(lot__stock__in=BaseStock.objects.active())
        .order_by()
        .annotate(week=week)
        .values_list("lot__stock", "week")
        .annotate(Sum("mass_lb"))
    )
    found: dict[int, dict[int, Decimal]] = defaultdict(dict)
    for stock, number, mass in rows:
        found[stock][number] = max(ZERO, -mass)
    return found


def growth(today: date) -> Growth:
    """All orders of the plant that were placed lately, against the same weeks a year ago."""
    first, until = _instant(today - timedelta(weeks=GROWTH_WEEKS)), _instant(today, days=1)
    lately = Q(order__created_at__gte=first, order__created_at__lt=until)
    before = Q(order__created_at__gte=first - A_YEAR, order__created_at__lt=until - A_YEAR)
    sums = (
        OrderLine.objects.exclude(order__status__in=_NO_ORDERS)
        .filter(lately | before)
        .aggregate(placed=Sum("mass_lb", filter=lately), year_ago=Sum("mass_lb", filter=before))
    )
    return Growth(_exact(sums["placed"]), _exact(sums["year_ago"]))


def _instant(day: date, *, days: int = 0) -> datetime:
    """Midnight with which a day of the plant begins."""
    return timezone.make_aware(datetime.combine(day + timedelta(days=days), time.min))


def _exact(lb: float | None) -> Decimal:
    return Decimal(str(round(lb or 0.0, 3)))
