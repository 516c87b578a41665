"""Which companies' limits are to be confirmed, beside what they have ordered so far."""

from __future__ import annotations

from dataclasses import dataclass
from decimal import Decimal

from django.db.models import Max, OuterRef, Q, QuerySet, Subquery, Sum
from django.db.models.functions import Coalesce

from blendshop.accounts.models import Company
from orders.models import Order, OrderLine
from orders.ordering.limits import open_amount


@dataclass(frozen=True, slots=True)
class SizeSoFar:
    """The largest order of a company in gallons and in dollars, and what is open now."""

    most_gal: float | None
    most_total: Decimal | None
    open_total: Decimal


def customers_by_limits(*, to_confirm: bool) -> QuerySet[Company]:
    """Active companies by name; only those whose limits nobody has confirmed, or all."""
    companies = Company.objects.filter(active=True).order_by("name", "pk")
    if to_confirm:
        companies = companies.filter(
            Q(order_limits__isnull=True) | Q(order_limits__confirmed_at__isnull=True)
        )
    return companies


def with_limits(companies: QuerySet[Company]) -> QuerySet[Company]:
    """With the limits and the sizes so far, for one page of the list."""
    orders = _taken(Order.objects.filter(company=OuterRef("pk"))).order_by().values("company")
    opened = Order.objects.open().filter(company=OuterRef("pk")).order_by().values("company")
    return companies.select_related("order_limits").annotate(
        largest_total=Subquery(orders.annotate(most=Max("total")).values("most")),
        open_total=Coalesce(Subquery(opened.annotate(sum=Sum("total")).values("sum")), Decimal(0)),
    )


def size_so_far(company: Company) -> SizeSoFar:
    """Of orders that were not cancelled or declined, and that are no requests."""
    orders = _taken(Order.objects.filter(company=company))
    gallons = OrderLine.objects.filter(order__in=orders).values("order").order_by()
    largest = gallons.annotate(gal=Sum("volume_gal")).aggregate(most=Max("gal"))["most"]
    return SizeSoFar(
        most_gal=largest,
        most_total=orders.aggregate(most=Max("total"))["most"],
        open_total=open_amount(company),
    )


def _taken(orders: QuerySet[Order]) -> QuerySet[Order]:
    gone = (Order.Status.CANCELLED, Order.Status.DECLINED, Order.Status.REQUESTED)
    return orders.exclude(status__in=gone)
