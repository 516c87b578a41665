"""Where a lot went and where a package came from, both ways, splits and rinse water included.

Each round asks the database three questions about everything found so far, whatever the number
of lots and batches, so a trace costs the same few queries in a plant with 100,000 movements.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass
from decimal import Decimal
from enum import StrEnum
from typing import Final

from django.db.models import Q, QuerySet, Sum

from formulas.models import BlendRevision
from orders.models import Batch, PackageSerial, ShipTo, StockLot, StockMovement, TankRinse


class Start(StrEnum):
    """What a trace began with."""

    LOT = "lot"
    SUPPLIER_LOT = "supplier's lot"
    BATCH = "batch"
    PACKAGE = "package"
    ORDER = "order"


#: From these one asks where the liquid went; from the others what it was made of.
FORWARD: Final = (Start.LOT, Start.SUPPLIER_LOT)


@dataclass(frozen=True, slots=True)
class Use:
    """So many pounds of a lot in a batch, charges taken back not counted."""

    lot: StockLot
    lb: Decimal


@dataclass(frozen=True, slots=True)
class TracedPackage:
    serial: str
    net_lb: Decimal


@dataclass(frozen=True, slots=True)
class TracedBatch:
    """A batch with its uses among the traced lots and the packages it filled.

    Plain values: a thousand batches as records with all they point at would cost most of the
    time a trace may take.
    """

    number: str
    status: str
    order_number: str
    customer: str
    ship_to: str
    blend: str
    grade: str
    uses: tuple[Use, ...]
    packages: tuple[TracedPackage, ...]

    @property
    def state(self) -> str:
        return str(Batch.Status(self.status).label)


@dataclass(frozen=True, slots=True)
class Trace:
    """Everything one lot, batch or package is connected with.

    ``batches`` in order of their numbers. ``lots`` by code, also those nothing was used of.
    When a package was asked for, it is the only one listed of its batch.
    """

    asked: str
    start: Start
    lots: tuple[StockLot, ...]
    batches: tuple[TracedBatch, ...]

    @property
    def is_forward(self) -> bool:
        return self.start in FORWARD

    @property
    def customers(self) -> tuple[str, ...]:
        return tuple(sorted({found.customer for found in self.batches}))

    @property
    def package_count(self) -> int:
        return sum(len(found.packages) for found in self.batches)


def trace(text: str) -> Trace | None:
    """What a code, number or serial is connected with; None when nobody has given it out.

    Read in this order: our lot code, package serial, batch number, order number, supplier's lot.
    """
    asked = text.strip()
    if not asked:
        return None
    # We give out capitals; a scanner may be set to small letters. Two values keep the index.
    given_out = [asked, asked.upper()]
    if lots := set(StockLot.objects.filter(code__in=given_out).values_list("pk", flat=True)):
        return _forward(asked, Start.LOT, lots)
    packages = PackageSerial.objects.filter(serial__in=given_out)
    if package := packages.first():
        return _backward(asked, Start.PACKAGE, {package.batch_id}, package)
    batches = Batch.objects.filter(number__in=given_out)
    if found := set(batches.values_list("pk", flat=True)):
        return _backward(asked, Start.BATCH, found)
    of_order = Batch.objects.filter(order_line__order__number__in=given_out)
    if found := set(of_order.values_list("pk", flat=True)):
        return _backward(asked, Start.ORDER, found)
    supplied = StockLot.objects.filter(supplier_lot__iexact=asked)
    if lots := set(supplied.values_list("pk", flat=True)):
        return _forward(asked, Start.SUPPLIER_LOT, lots)
    return None


def trace_lot(lot: StockLot) -> Trace:
    """Every batch, package and customer a lot went to."""
    return _forward(lot.code, Start.LOT, {lot.pk})


#: Column titles of ``table``.
COLUMNS: Final = (
    "lot",
    "stock",
    "stock name",
    "supplier",
    "supplier's lot",
    "received",
    "lot state",
    "lot on hand lb",
    "lb in batch",
    "batch",
    "batch state",
    "blend",
    "grade",
    "order",
    "customer",
    "ship to",
    "package",
    "package net lb",
)


def table(found: Trace) -> Iterator[tuple[str, ...]]:
    """One row for each lot, batch and package that meet; a lot that went nowhere has one too."""
    met: set[int] = set()
    for batch in found.batches:
        for use in batch.uses:
            met.add(use.lot.pk)
            for package in batch.packages or (None,):
                yield (
                    *_lot_cells(use.lot),
                    str(use.lb),
                    batch.number,
                    batch.state,
                    batch.blend,
                    batch.grade,
                    batch.order_number,
                    batch.customer,
                    batch.ship_to,
                    package.serial if package else "",
                    str(package.net_lb) if package else "",
                )
    for lot in found.lots:
        if lot.pk not in met:
            yield (*_lot_cells(lot), *[""] * (len(COLUMNS) - 8))


def _lot_cells(lot: StockLot) -> tuple[str, ...]:
    return (
        lot.code,
        lot.stock.code,
        lot.stock.name,
        lot.supplier,
        lot.supplier_lot,
        lot.received_on.isoformat(),
        lot.get_state_display(),
        str(lot.on_hand_lb),
    )


def _forward(asked: str, start: Start, lots: set[int]) -> Trace:
    """Down: splits of the lots, batches they went into, rinse water kept from those batches."""
    batches: set[int] = set()
    new = set(lots)
    while new:
        splits = StockLot.objects.filter(split_from__in=new)
        into = {batch for _, batch, _ in _uses(lot__in=new)} - batches
        rinses = TankRinse.objects.filter(batch__in=into, lot__isnull=False)
        batches |= into
        new = _ids(splits) | set(rinses.values_list("lot", flat=True))
        new -= lots
        lots |= new
    return _result(asked, start, lots, batches)


def _backward(
    asked: str, start: Start, batches: set[int], package: PackageSerial | None = None
) -> Trace:
    """Up: lots of the batches, what those were split from, batches their rinse water came from."""
    lots: set[int] = set()
    new = set(batches)
    while new:
        above = {lot for lot, _, _ in _uses(batch__in=new)} - lots
        while above:
            lots |= above
            above = _ids(StockLot.objects.filter(splits__in=above)) - lots
        rinses = TankRinse.objects.filter(lot__in=lots).values_list("batch", flat=True)
        new = set(rinses) - batches
        batches |= new
    return _result(asked, start, lots, batches, package)


def _uses(**of: Iterable[int]) -> list[tuple[int, int, Decimal]]:
    """Lot, batch and pounds (negative) where something stayed in the batch."""
    movements = StockMovement.objects.filter(batch__isnull=False, **of)
    sums = movements.order_by("batch", "lot").values_list("lot", "batch")
    return list(sums.annotate(lb=Sum("mass_lb")).filter(lb__lt=0))


def _ids(lots: QuerySet[StockLot]) -> set[int]:
    return set(lots.values_list("pk", flat=True))


def _result(
    asked: str,
    start: Start,
    lot_ids: set[int],
    batch_ids: set[int],
    package: PackageSerial | None = None,
) -> Trace:
    lots = {
        lot.pk: lot
        for lot in StockLot.objects.filter(pk__in=lot_ids)
        .select_related("stock", "split_from")
        .order_by("code")
    }
    uses: dict[int, list[Use]] = defaultdict(list)
    for lot, batch, lb in _uses(lot__in=lot_ids, batch__in=batch_ids):
        uses[batch].append(Use(lots[lot], -lb))
    batches = tuple(_traced(batch_ids, uses, _packages(batch_ids, package)))
    return Trace(asked, start, tuple(lots.values()), batches)


def _traced(
    batch_ids: set[int],
    uses: Mapping[int, list[Use]],
    packages: Mapping[int, list[TracedPackage]],
) -> Iterator[TracedBatch]:
    rows = list(
        Batch.objects.filter(pk__in=batch_ids)
        .order_by("number")
        .values_list(
            "pk",
            "number",
            "status",
            "order_line__order__number",
            "order_line__order__company__name",
            "order_line__order__ship_to",
            "order_line__revision",
        )
    )
    ship_tos = ShipTo.objects.in_bulk({row[5] for row in rows})
    revisions = BlendRevision.objects.filter(pk__in={row[6] for row in rows})
    blends = {
        pk: (name, grade) for pk, name, grade in revisions.values_list("pk", "blend__name", "grade")
    }
    for pk, number, status, order, customer, ship_to, revision in rows:
        yield TracedBatch(
            number,
            status,
            order,
            customer,
            str(ship_tos[ship_to]),
            *blends[revision],
            tuple(uses.get(pk, ())),
            tuple(packages.get(pk, ())),
        )


def _packages(batch_ids: set[int], only: PackageSerial | None) -> dict[int, list[TracedPackage]]:
    """Packages by batch; of the batch of ``only`` just that one."""
    filled = PackageSerial.objects.filter(batch__in=batch_ids)
    if only is not None:
        filled = filled.exclude(Q(batch=only.batch_id) & ~Q(pk=only.pk))
    found: dict[int, list[TracedPackage]] = defaultdict(list)
    for batch, serial, net_lb in filled.order_by("serial").values_list("batch", "serial", "net_lb"):
        found[batch].append(TracedPackage(serial, net_lb))
    return found
