"""Where a lot went and where a package came from, both ways, splits and rinse water included.

Each round asks the database three questions about everything found so far, whatever the number
of lots and batches, so a trace costs the same few queries in a plant with 100,000 movements.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from decimal import Decimal
from enum import StrEnum
from typing import Final

from django.db.models import QuerySet, Sum

from orders.models import Batch, PackageSerial, StockLot, StockMovement, TankRinse


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
    batch: Batch
    lb: Decimal


@dataclass(frozen=True, slots=True)
class TracedBatch:
    """A batch with its uses among the traced lots and the packages it filled."""

    batch: Batch
    uses: tuple[Use, ...]
    packages: tuple[PackageSerial, ...]


@dataclass(frozen=True, slots=True)
class Trace:
    """Everything one lot, batch or package is connected with.

    ``batches`` in order of their numbers. ``lots`` by code, also those nothing was used of.
    ``package`` is set when one package was asked for: it is the only one listed of its batch.
    """

    asked: str
    start: Start
    lots: tuple[StockLot, ...]
    batches: tuple[TracedBatch, ...]
    package: PackageSerial | None = None

    @property
    def is_forward(self) -> bool:
        return self.start in FORWARD

    @property
    def customers(self) -> tuple[str, ...]:
        names = {found.batch.order_line.order.company.name for found in self.batches}
        return tuple(sorted(names))

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
    if lots := set(StockLot.objects.filter(code__iexact=asked).values_list("pk", flat=True)):
        return _forward(asked, Start.LOT, lots)
    packages = PackageSerial.objects.filter(serial__iexact=asked)
    if package := packages.first():
        return _backward(asked, Start.PACKAGE, {package.batch_id}, package)
    batches = Batch.objects.filter(number__iexact=asked)
    if found := set(batches.values_list("pk", flat=True)):
        return _backward(asked, Start.BATCH, found)
    of_order = Batch.objects.filter(order_line__order__number__iexact=asked)
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
    for traced in found.batches:
        batch = traced.batch
        line = batch.order_line
        for use in traced.uses:
            met.add(use.lot.pk)
            for package in traced.packages or (None,):
                yield (
                    *_lot_cells(use.lot),
                    str(use.lb),
                    batch.number,
                    batch.get_status_display(),
                    line.revision.blend.name,
                    line.revision.grade,
                    line.order.number,
                    line.order.company.name,
                    str(line.order.ship_to),
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
    batches = {
        batch.pk: batch
        for batch in Batch.objects.filter(pk__in=batch_ids)
        .select_related(
            "order_line__order__company",
            "order_line__order__ship_to",
            "order_line__revision__blend",
        )
        .order_by("number")
        .defer("plan", "order_line__revision__answer", "order_line__revision__wish")
    }
    uses: dict[int, list[Use]] = {}
    for lot, batch, lb in _uses(lot__in=lot_ids, batch__in=batch_ids):
        uses.setdefault(batch, []).append(Use(lots[lot], batches[batch], -lb))
    packages: dict[int, list[PackageSerial]] = {}
    filled = PackageSerial.objects.filter(batch__in=batch_ids).order_by("serial")
    for row in filled:
        if package is None or row.batch_id != package.batch_id or row.pk == package.pk:
            packages.setdefault(row.batch_id, []).append(row)
    traced = tuple(
        TracedBatch(batch, tuple(uses.get(pk, ())), tuple(packages.get(pk, ())))
        for pk, batch in batches.items()
    )
    return Trace(asked, start, tuple(lots.values()), traced, package)
