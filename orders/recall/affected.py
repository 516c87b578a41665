"""What a recall reaches: batches, goods with their customers, and what is still here.

The same number of queries whatever the number of packages, parts and customers.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable
from dataclasses import dataclass
from datetime import date
from decimal import Decimal

from django.db.models import Max, Sum
from django.utils import timezone

from blendshop.accounts.models import Company, User
from orders.inventory.trace import where_it_went
from orders.inventory.traced import FORWARD, Start, TracedBatch
from orders.models import (
    Batch,
    BatchPart,
    Charge,
    HeelCarried,
    Order,
    OrderEvent,
    PackageSerial,
    StockLot,
    TankEntry,
)
from orders.production.grades import grades_of_batches, grades_of_parts


@dataclass(frozen=True, slots=True)
class AffectedBatch:
    """A batch with something of the source in it: so many pounds, ``share_pct`` of the batch.

    Both are None for the batch the recall is of; the share also where no weight is written down.
    Rinse water counts with all its pounds, which is more than what it carries.
    """

    traced: TracedBatch
    grade: str
    lb: Decimal | None
    share_pct: float | None


@dataclass(frozen=True, slots=True)
class Goods:
    """What one order has of an affected batch; ``shipped_on`` is None while it is here.

    ``serials`` with their net pounds; ``not_numbered`` packages have no serial.
    """

    order_number: str
    company_id: int
    ship_to_lines: tuple[str, ...]
    batch: Batch
    grade: str
    product_name: str
    package_name: str
    serials: tuple[tuple[str, Decimal], ...]
    not_numbered: int
    shipped_on: date | None


@dataclass(frozen=True, slots=True)
class AffectedCustomer:
    """Somebody who has some of it."""

    company: Company
    people: tuple[User, ...]
    goods: tuple[Goods, ...]

    @property
    def package_count(self) -> int:
        return sum(len(each.serials) + each.not_numbered for each in self.goods)


@dataclass(frozen=True, slots=True)
class InTank:
    """Pounds of an affected batch that a tank holds by its newest entry."""

    tank: str
    tank_id: int
    batch: str
    lb: float


@dataclass(frozen=True, slots=True)
class Affected:
    """``customers`` have it already, by name; ``here`` are goods that have not left."""

    start: Start
    lots: tuple[StockLot, ...]
    batches: tuple[AffectedBatch, ...]
    batch_ids: frozenset[int]
    customers: tuple[AffectedCustomer, ...]
    here: tuple[Goods, ...]
    tanks: tuple[InTank, ...]

    @property
    def lots_here(self) -> tuple[StockLot, ...]:
        return tuple(lot for lot in self.lots if lot.on_hand_lb > 0)

    @property
    def shipped_count(self) -> int:
        return sum(customer.package_count for customer in self.customers)


def affected(source: str) -> Affected | None:
    """What a lot, supplier's lot, batch, order or package reaches; None when it is not known."""
    found = where_it_went(source)
    if found is None:
        return None
    traced, ids = tuple(found.batches), found.batches.ids
    goods = _goods(ids)
    gone = [each for each in goods if each.shipped_on is not None]
    return Affected(
        found.start,
        found.lots,
        _batches(traced, ids, found.start),
        ids,
        _customers(gone),
        tuple(each for each in goods if each.shipped_on is None),
        _tanks({batch.number for batch in traced}),
    )


def _batches(
    traced: tuple[TracedBatch, ...], ids: Iterable[int], start: Start
) -> tuple[AffectedBatch, ...]:
    # By the weights, not the lots' movements: water from the main has no lot.
    charged = Charge.objects.filter(batch__in=ids, reversal__isnull=True).order_by("batch")
    heels = HeelCarried.objects.filter(into__in=ids).order_by("into")
    mass: dict[str, Decimal] = defaultdict(Decimal)
    for number, lb in charged.values_list("batch__number").annotate(lb=Sum("mass_lb")):
        mass[number] += lb
    for number, heel_lb in heels.values_list("into__number").annotate(lb=Sum("mass_lb")):
        mass[number] += Decimal(heel_lb)
    grades = grades_of_batches(each.number for each in traced)
    return tuple(_batch(each, grades[each.number], mass[each.number], start) for each in traced)


def _batch(traced: TracedBatch, grade: str, mass_lb: Decimal, start: Start) -> AffectedBatch:
    """Pounds of the lots, through heels; of a batch those of its heel. Rinse water counts in full.

    What a trace calls carried of a batch is rinse water within its heel, and counted there.
    """
    by_heel = traced.carried if start in FORWARD else traced.heels
    came = [use.lb for use in traced.uses] + [each.lb for each in by_heel]
    if not came:
        return AffectedBatch(traced, grade, None, None)
    lb = sum(came, Decimal(0))
    return AffectedBatch(traced, grade, lb, float(100 * lb / mass_lb) if mass_lb > 0 else None)


def _goods(batch_ids: Iterable[int]) -> list[Goods]:
    parts = list(
        BatchPart.objects.live()
        .filter(batch__in=batch_ids)
        .select_related("batch", "order_line__order__ship_to")
        .order_by("order_line__order__number", "batch__number", "position")
    )
    serials: dict[int, list[tuple[str, Decimal]]] = defaultdict(list)
    packages = PackageSerial.objects.filter(part__in=[part.pk for part in parts])
    for part_id, serial, net_lb in packages.order_by("pk").values_list("part", "serial", "net_lb"):
        serials[part_id].append((serial, net_lb))
    left = OrderEvent.objects.filter(
        order__in={part.order_line.order_id for part in parts}, to_status=Order.Status.SHIPPED
    )
    shipped = dict(left.order_by("order").values_list("order").annotate(at=Max("at")))
    grades = grades_of_parts(part.pk for part in parts)
    found = []
    for part in parts:
        order, numbered = part.order_line.order, tuple(serials.get(part.pk, ()))
        has_left = order.status == Order.Status.SHIPPED
        at = shipped.get(order.pk, order.created_at)
        found.append(
            Goods(
                order.number,
                order.company_id,
                order.ship_to.address_lines,
                part.batch,
                grades[part.pk],
                part.product_name,
                part.consignment.package.name,
                numbered,
                max(0, part.package_count - len(numbered)),
                timezone.localdate(at) if has_left else None,
            )
        )
    return found


def _customers(gone: list[Goods]) -> tuple[AffectedCustomer, ...]:
    by_company: dict[int, list[Goods]] = defaultdict(list)
    for each in gone:
        by_company[each.company_id].append(each)
    companies = Company.objects.filter(pk__in=by_company).prefetch_related("people")
    return tuple(
        AffectedCustomer(
            company,
            tuple(person for person in company.people.all() if person.is_active),
            tuple(by_company[company.pk]),
        )
        for company in companies.order_by("name", "pk")
    )


def _tanks(numbers: set[str]) -> tuple[InTank, ...]:
    entries = TankEntry.objects.newest().select_related("tank").order_by("tank__name")
    return tuple(
        InTank(entry.tank.name, entry.tank_id, held.number, held.lb)
        for entry in entries
        for held in entry.held.batches
        if held.number in numbers
    )
