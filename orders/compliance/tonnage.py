"""Tons shipped into a state in a period, by grade and county, with the fee they owe.

Packages that were weighed count as weighed, the others by the estimate their papers print. Every
shipped line is rounded once, to the whole pound; rows, totals and tons follow from those
pounds exactly (a pound is 0.0005 of a 2,000 lb ton), so the report reconciles with the shipments
to the pound. The state's own form, its exemptions and its due dates decide.
"""

from __future__ import annotations

import math
from collections import defaultdict
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from datetime import date, datetime, time, timedelta
from decimal import Decimal
from typing import Final

from django.db.models import Prefetch, Q, QuerySet
from django.utils import timezone
from django.utils.translation import gettext as _

from blendshop.errors import BadInput
from blendshop.money import money
from formulas import reference
from formulas.models.base_stock import LB_PER_TON
from orders.models import Batch, Order, OrderEvent, OrderLine, StateFee
from orders.production.grades import grades_of_parts
from orders.production.net_weight import (
    NetWeight,
    net_weights,
    planned_parts,
    unplanned_net_weight,
)

#: Printed where a ship-to has no county.
NO_COUNTY: Final = "county not given"
#: Databases take so many keys in a question with ease, and no more is held than this.
_ORDERS_READ_AT_ONCE: Final = 500
_EARLIEST: Final = date(1900, 1, 1)
_LATEST: Final = date(9000, 1, 1)
COLUMNS: Final = ("state", "county", "grade", "pounds", "tons")


@dataclass(frozen=True, slots=True)
class Shipment:
    """What left the plant of one order line in one grade: so many packages ``weighed`` and not."""

    shipped_on: date
    order_number: str
    position: int
    customer: str
    state: str
    county: str
    grade: str
    lb: int
    weighed: int
    estimated: int

    @property
    def basis(self) -> str:
        if not self.estimated:
            return _("packages as weighed")
        if not self.weighed:
            return _("estimated")
        count = {"weighed": self.weighed, "packages": self.weighed + self.estimated}
        return _("%(weighed)s of %(packages)s weighed, rest estimated") % count


@dataclass(frozen=True, slots=True)
class TonnageRow:
    county: str
    grade: str
    lb: int

    @property
    def tons(self) -> Decimal:
        return tons(self.lb)


@dataclass(frozen=True, slots=True)
class Fee:
    """What the tons owe: the larger of rate times tons and the minimum of a report."""

    per_ton: Decimal
    by_tons: Decimal
    minimum: Decimal | None
    citation: str
    mark: str

    @property
    def due(self) -> Decimal:
        return max(self.by_tons, self.minimum or Decimal("0.00"))


@dataclass(frozen=True, slots=True)
class TonnageReport:
    """``rows`` by county, then grade; ``fee`` is None when no rate of the state is on file."""

    state: str
    first: date
    last: date
    rows: tuple[TonnageRow, ...]
    shipments: tuple[Shipment, ...]
    fee: Fee | None

    @property
    def lb(self) -> int:
        return sum(row.lb for row in self.rows)

    @property
    def tons(self) -> Decimal:
        return tons(self.lb)


def tons(lb: int) -> Decimal:
    """Short tons, exact to four places."""
    return Decimal(lb) / LB_PER_TON


def tonnage_report(state: str, first: date, last: date) -> TonnageReport:
    """What went to ``state`` from the first through the last day; BadInput if reversed."""
    require_period(first, last)
    found = tuple(shipments(state, first, last))
    sums: dict[tuple[str, str], int] = defaultdict(int)
    for shipment in found:
        sums[shipment.county, shipment.grade] += shipment.lb
    rows = tuple(TonnageRow(*key, lb) for key, lb in sorted(sums.items()))
    return report_of_rows(state, first, last, rows, found)


def report_of_rows(
    state: str,
    first: date,
    last: date,
    rows: tuple[TonnageRow, ...],
    found: tuple[Shipment, ...] = (),
) -> TonnageReport:
    """The report of rows that were added up, with the fee by the rate of now."""
    return TonnageReport(state, first, last, rows, found, _fee(state, sum(row.lb for row in rows)))


def require_period(first: date, last: date) -> None:
    """BadInput where it ends before it begins."""
    if last < first:
        message = _("The last day lies before the first.")
        raise BadInput(message, fields={"last": message})


def shipped_orders(state: str, first: date, last: date) -> QuerySet[OrderEvent]:
    """The events by which orders were shipped to ``state``, from the first through the last day."""
    # By moments, which an index knows, and not by days; no plant has shipped outside of these.
    begin = max(first, _EARLIEST)
    end = min(last, _LATEST) + timedelta(days=1)
    shipped = OrderEvent.objects.filter(
        to_status=Order.Status.SHIPPED,
        order__status=Order.Status.SHIPPED,
        at__gte=timezone.make_aware(datetime.combine(begin, time.min)),
        at__lt=timezone.make_aware(datetime.combine(end, time.min)),
    ).exclude(from_status=Order.Status.SHIPPED)  # a note on a shipped order ships nothing
    # Where it went is what was written down on shipping; the address only where nothing was.
    there = Q(data__state=state) | ~Q(data__has_key="state") & Q(order__ship_to__state=state)
    return shipped.filter(there)


def shipments(state: str, first: date, last: date) -> list[Shipment]:
    """Shipped order lines by day and number, in few queries for every so many orders."""
    return shipments_of(shipped_orders(state, first, last), state)


def shipments_of(shipped: QuerySet[OrderEvent], state: str) -> list[Shipment]:
    """The same of these of the ``shipped_orders``."""
    events = {event.order_id: event for event in shipped.select_related("order__ship_to")}
    orders = list(events)
    found = [
        shipment
        for begin in range(0, len(orders), _ORDERS_READ_AT_ONCE)
        for shipment in _of_orders(orders[begin : begin + _ORDERS_READ_AT_ONCE], events, state)
    ]
    return sorted(found, key=lambda each: (each.shipped_on, each.order_number, each.position))


def whole_pounds(mass_lb: float | Decimal) -> int:
    """Rounded half up to the pound."""
    return math.floor(Decimal(str(mass_lb)) + Decimal("0.5"))


def table(report: TonnageReport) -> Iterator[tuple[str, ...]]:
    """The report's rows for ``COLUMNS``, the total last."""
    for row in report.rows:
        yield report.state, row.county, row.grade, str(row.lb), f"{row.tons:.4f}"
    yield report.state, "all counties", "all grades", str(report.lb), f"{report.tons:.4f}"


def states() -> list[str]:
    """States something was ever shipped to, in order."""
    shipped = OrderEvent.objects.filter(to_status=Order.Status.SHIPPED).order_by()
    places = shipped.values_list("data__state", "order__ship_to__state").distinct()
    return sorted({then or now for then, now in places})


def _of_orders(
    orders: Sequence[int], events: Mapping[int, OrderEvent], state: str
) -> Iterator[Shipment]:
    """The shipments of these orders. Plans are not read with them: they are what takes long."""
    batches = Batch.objects.defer("plan")
    lines = list(
        OrderLine.objects.filter(order__in=orders)
        .select_related("order__company", "revision", "package")
        .defer("revision__answer", "revision__wish", "price")
        .prefetch_related(Prefetch("parts__batch", batches), "parts__packages")
    )
    parts = [part for line in lines for part in planned_parts(line)]
    grades, weights = grades_of_parts(part.pk for part in parts), net_weights(parts)
    for line in lines:
        by_grade: dict[str, NetWeight] = defaultdict(NetWeight)
        for part in planned_parts(line):
            by_grade[grades[part.pk]] += weights[part.pk]
        if (rest := unplanned_net_weight(line)).packages:
            by_grade[line.revision.grade] += rest
        for grade, weight in by_grade.items():
            yield _shipment(line, grade, weight, events[line.order_id], state)


def _shipment(
    line: OrderLine, grade: str, weight: NetWeight, event: OrderEvent, state: str
) -> Shipment:
    return Shipment(
        shipped_on=timezone.localdate(event.at),
        order_number=line.order.number,
        position=line.position,
        customer=line.order.company.name,
        state=state,
        county=event.county_shipped_to or NO_COUNTY,
        grade=grade,
        lb=whole_pounds(weight.lb),
        weighed=weight.weighed,
        estimated=weight.estimated,
    )


def _fee(state: str, lb: int) -> Fee | None:
    rate = StateFee.objects.filter(state=state, active=True).first()
    if rate is None:
        return None
    minimum = next((fee.minimum for fee in reference.inspection_fees() if fee.state == state), None)
    return Fee(
        per_ton=rate.fee_per_ton,
        by_tons=money(tons(lb) * rate.fee_per_ton),
        minimum=minimum,
        citation=rate.citation,
        mark=rate.mark,
    )
