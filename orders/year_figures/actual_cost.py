"""What was weighed for an order line at what it cost, worked out by the database.

The same reckoning as ``orders.repricing.order_money``, which reads one order: each charge at the
cost in force on the day its lot came in, without one on the day it was weighed, shared out by the
gallons of a load's parts; what is not made yet counts as quoted; each line in cents. All of it is
double precision here, so that both kinds of database reckon alike.
"""

from __future__ import annotations

from datetime import date
from typing import Any, Final

from django.db.models import (
    Case,
    Exists,
    Expression,
    F,
    FloatField,
    OuterRef,
    QuerySet,
    Subquery,
    Sum,
    Value,
    When,
)
from django.db.models.fields.json import KT
from django.db.models.functions import Cast, Coalesce, Floor, Least, NullIf, TruncDate

from formulas.models import CostUnit, StockCost
from formulas.models.base_stock import LB_PER_TON
from orders.models import Batch, BatchPart, Charge
from orders.models.pounds import PLACES as THOUSANDTHS

#: Batches whose weights are all in.
_MADE: Final = (Batch.Status.MADE, Batch.Status.HELD, Batch.Status.RELEASED)
#: Half a cent in cents, and what double precision may have lost of it.
_HALF_UP: Final = 0.5 + 1e-6


def cost_per_lb_on(stock: str, day: str | date) -> Subquery:
    """Dollars per pound of a stock on a day, names in the outer query; null without a cost."""
    until = OuterRef(day) if isinstance(day, str) else day
    entries = StockCost.objects.filter(stock=OuterRef(stock), effective_from__lte=until)
    newest = entries.order_by("-effective_from", "-pk").values(dollars=_per_lb())
    return Subquery(newest[:1], output_field=FloatField())


def actual_cents() -> Expression:
    """Of an order line: its material in whole cents, as weighed as far as it is made."""
    share = made_share()
    dollars = _weighed_dollars() + _float("material") * (Value(1.0) - share)
    return Floor(dollars * Value(100.0) + Value(_HALF_UP), output_field=FloatField())


def made_share() -> Expression:
    """Of an order line: which share of it was made and weighed, 0 to 1."""
    quantity = _parts().annotate(made=Sum("quantity")).values("made")
    packages = Coalesce(Subquery(quantity), Value(0), output_field=FloatField())
    return Least(Value(1.0), packages / _float("quantity"), output_field=FloatField())


def _weighed_dollars() -> Expression:
    of_part = _float_of(KT("delivery__volume_gal")) / NullIf(Subquery(_load_gal()), Value(0.0))
    cost = _parts().annotate(cost=Sum(of_part * Subquery(_load_dollars()))).values("cost")
    return Coalesce(Subquery(cost), Value(0.0), output_field=FloatField())


def _parts() -> QuerySet[Any]:
    """Parts of the outer order line in loads whose weights were written down, grouped as one."""
    weighed = Charge.objects.filter(batch=OuterRef("batch"), reversal__isnull=True)
    parts = BatchPart.objects.filter(
        Exists(weighed), order_line=OuterRef("pk"), batch__status__in=_MADE
    )
    return parts.order_by().values("order_line")


def _load_gal() -> QuerySet[Any]:
    parts: QuerySet[Any] = BatchPart.objects.filter(batch=OuterRef("batch"))
    parts = parts.order_by().values("batch")
    sums: QuerySet[Any] = parts.annotate(gal=Sum(_float_of(KT("delivery__volume_gal"))))
    return sums.values("gal")


def _load_dollars() -> QuerySet[Any]:
    charges = Charge.objects.alias(weighed_on=TruncDate("at")).filter(
        batch=OuterRef("batch"), reversal__isnull=True
    )
    per_lb = Coalesce(
        cost_per_lb_on("stock", "lot__received_on"),
        cost_per_lb_on("stock", "weighed_on"),
        Value(0.0),
    )
    pounds = _float("mass_lb") / Value(10.0**THOUSANDTHS)
    dollars = charges.order_by().values("batch").annotate(cost=Sum(pounds * per_lb))
    return dollars.values("cost")


def _per_lb() -> Expression:
    """As ``StockCost.per_lb``."""
    amount = _float("amount")
    return Case(
        When(unit=CostUnit.TON, then=amount / Value(float(LB_PER_TON))),
        When(unit=CostUnit.GAL, then=amount / F("stock__density_lb_per_gal")),
        default=amount,
        output_field=FloatField(),
    )


def _float(name: str) -> Expression:
    return Cast(name, FloatField())


def _float_of(text: Expression) -> Expression:
    return Cast(text, FloatField())
