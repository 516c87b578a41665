"""Where a lot went and where a package came from, both ways: splits, heels, rinse water included.

Each round asks the database four questions about everything found so far, whatever the number
of lots and batches, so a trace costs the same few queries in a plant with 100,000 movements.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from decimal import Decimal
from enum import StrEnum
from typing import Any, Final, overload

from django.db.models import Q, QuerySet, Sum

from formulas.models import BlendRevision
from orders.models import (
    Batch,
    BatchPart,
    HeelCarried,
    PackageSerial,
    ShipTo,
    StockLot,
    StockMovement,
    TankRinse,
)
from orders.models.pounds import PLACES


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
    """So many pounds of a lot in a batch, reversed charges not counted."""

    lot: StockLot
    lb: Decimal


@dataclass(frozen=True, slots=True)
class Carried:
    """Pounds of a lot that came into a batch with the heel of another, ``of`` by its number."""

    lot: StockLot
    of: str
    lb: Decimal


@dataclass(frozen=True, slots=True)
class TracedHeel:
    """Pounds of an earlier batch that a batch was begun on."""

    of: str
    lb: Decimal


@dataclass(frozen=True, slots=True)
class TracedPackage:
    serial: str
    net_lb: Decimal


@dataclass(frozen=True, slots=True)
class TracedPart:
    """What one order has of a batch, with the packages that were filled for it."""

    order_number: str
    customer: str
    ship_to: str
    packages: tuple[TracedPackage, ...]


@dataclass(frozen=True, slots=True)
class TracedBatch:
    """A batch with its uses among the traced lots, what of them its heel brought, and its parts.

    ``heels`` are the traced batches it was begun on, through heels of heels.

    Plain values: a thousand batches as records with all they point at would cost most of the
    time a trace may take.
    """

    number: str
    status: str
    blend: str
    grade: str
    uses: tuple[Use, ...]
    parts: tuple[TracedPart, ...]
    heels: tuple[TracedHeel, ...] = ()
    carried: tuple[Carried, ...] = ()

    @property
    def state(self) -> str:
        return str(Batch.Status(self.status).label)

    @property
    def held_lots(self) -> tuple[StockLot, ...]:
        """Those of the traced lots in it that are on hold now and stop it."""
        inside = [use.lot for use in self.uses] + [each.lot for each in self.carried]
        return tuple(lot for lot in dict.fromkeys(inside) if lot.state == StockLot.State.HELD)


class TracedBatches(Sequence[TracedBatch]):
    """Batches in order of their numbers; a slice of them is looked up when it is read.

    A page shows some of what may be thousands, and only the table reads them all.
    """

    def __init__(
        self,
        batch_ids: set[int],
        uses: Mapping[int, list[Use]],
        only: PackageSerial | None,
    ) -> None:
        batches = Batch.objects.filter(pk__in=batch_ids).order_by("number")
        self._rows = list(batches.values_list("pk", "number", "status"))
        self._numbers = {pk: number for pk, number, _ in self._rows}
        self._uses, self._only = uses, only

    @property
    def ids(self) -> frozenset[int]:
        return frozenset(self._numbers)

    def __len__(self) -> int:
        return len(self._rows)

    @overload
    def __getitem__(self, index: int) -> TracedBatch: ...
    @overload
    def __getitem__(self, index: slice) -> Sequence[TracedBatch]: ...
    def __getitem__(self, index: int | slice) -> TracedBatch | Sequence[TracedBatch]:
        if isinstance(index, slice):
            return tuple(self._looked_up(self._rows[index]))
        return next(self._looked_up([self._rows[index]]))

    def __iter__(self) -> Iterator[TracedBatch]:
        return self._looked_up(self._rows)

    def _looked_up(self, rows: Sequence[tuple[int, str, str]]) -> Iterator[TracedBatch]:
        parts, blends = _parts_of(rows, self._only)
        heels = self._heels_under([pk for pk, _, _ in rows])
        for pk, number, status in rows:
            of_batch = parts[pk]
            blend, grade = blends[of_batch[0][0]]
            yield TracedBatch(
                number,
                status,
                blend,
                grade,
                tuple(self._uses.get(pk, ())),
                tuple(part for _, part in of_batch),
                tuple(TracedHeel(self._numbers[of], lb) for of, lb, _ in heels[pk]),
                tuple(
                    Carried(use.lot, self._numbers[of], _pounds(use.lb * share))
                    for of, _, share in heels[pk]
                    for use in self._uses.get(of, ())
                ),
            )

    def _heels_under(self, rows: Sequence[int]) -> Mapping[int, list[tuple[int, Decimal, Decimal]]]:
        """By batch: earlier traced batch, pounds of it, and their share of all charged for it."""
        found: dict[int, list[tuple[int, Decimal, Decimal]]] = defaultdict(list)
        carried = HeelCarried.objects.filter(into__in=rows).order_by("pk")
        for into, of, lb, share in carried.values_list("into", "of", "mass_lb", "share"):
            if of in self._numbers:
                found[into].append((of, _pounds(Decimal(lb)), Decimal(share)))
        return found


@dataclass(frozen=True, slots=True)
class Trace:
    """Everything one lot, batch or package is connected with.

    ``batches`` in order of their numbers, looked up as far as they are read. ``lots`` by code,
    also those nothing was used of. When a package was asked for, it is the only one listed of
    its batch, and its customer the only one. ``only_by_heel`` of the batches were charged from
    none of the lots and carry them only with their heel.
    """

    asked: str
    start: Start
    lots: tuple[StockLot, ...]
    batches: TracedBatches
    customers: tuple[str, ...]
    package_count: int
    only_by_heel: int

    @property
    def is_forward(self) -> bool:
        return self.start in FORWARD


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
    packages = PackageSerial.objects.filter(serial__in=given_out).select_related("part")
    if package := packages.first():
        return _backward(asked, Start.PACKAGE, {package.part.batch_id}, package)
    batches = Batch.objects.filter(number__in=given_out)
    if found := set(batches.values_list("pk", flat=True)):
        return _backward(asked, Start.BATCH, found)
    of_order = Batch.objects.filter(parts__order_line__order__number__in=given_out)
    if found := set(of_order.values_list("pk", flat=True)):
        return _backward(asked, Start.ORDER, found)
    supplied = StockLot.objects.filter(supplier_lot__iexact=asked)
    if lots := set(supplied.values_list("pk", flat=True)):
        return _forward(asked, Start.SUPPLIER_LOT, lots)
    return None


def where_it_went(text: str) -> Trace | None:
    """All that has something of a lot, supplier's lot, batch or order in it; None when unknown.

    A package stands for its whole batch: what is wrong with one is in all that was mixed with it.
    Always down, where ``trace`` goes up from a batch: the lots are those that carry something of
    it (its rinse water), not those it was made from.
    """
    found = trace(text)
    if found is None or found.is_forward:
        return found
    given_out = [found.asked, found.asked.upper()]
    begun = Batch.objects.filter(
        Q(number__in=given_out)
        | Q(parts__order_line__order__number__in=given_out)
        | Q(parts__packages__serial__in=given_out)
    )
    return _forward(found.asked, found.start, set(), begun.values_list("pk", flat=True))


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
    "with heel of batch",
)


def table(found: Trace) -> Iterator[tuple[str, ...]]:
    """One row for each lot, batch and package that meet; a lot that went nowhere has one too."""
    cells = {lot.pk: _lot_cells(lot) for lot in found.lots}
    met: set[int] = set()
    for batch in found.batches:
        filled = [
            (*ordered, *package)
            for part in batch.parts
            for ordered in [(part.order_number, part.customer, part.ship_to)]
            for package in [(p.serial, str(p.net_lb)) for p in part.packages] or [("", "")]
        ]
        made = (batch.number, batch.state, batch.blend, batch.grade)
        came: list[tuple[Use | Carried, str]] = [(use, "") for use in batch.uses]
        came += [(each, each.of) for each in batch.carried]
        for each, heel_of in came:
            met.add(each.lot.pk)
            begin = (*cells[each.lot.pk], str(each.lb), *made)
            for end in filled:
                yield (*begin, *end, heel_of)
    for lot in found.lots:
        if lot.pk not in met:
            yield (*cells[lot.pk], *[""] * (len(COLUMNS) - 8))


def as_json(found: Trace) -> dict[str, Any]:
    """The trace as plain values: masses as decimal text, so that no digit is lost."""
    return {
        "asked": found.asked,
        "start": found.start.value,
        "customers": list(found.customers),
        "package_count": found.package_count,
        "only_by_heel": found.only_by_heel,
        "lots": [
            {
                "lot": lot.code,
                "stock": lot.stock.code,
                "supplier": lot.supplier,
                "supplier_lot": lot.supplier_lot,
                "received_on": lot.received_on.isoformat(),
                "state": lot.state,
                "on_hand_lb": str(lot.on_hand_lb),
            }
            for lot in found.lots
        ],
        "batches": [_batch_json(batch) for batch in found.batches],
    }


def _batch_json(batch: TracedBatch) -> dict[str, Any]:
    return {
        "batch": batch.number,
        "state": batch.status,
        "blend": batch.blend,
        "grade": batch.grade,
        "lots": [{"lot": use.lot.code, "lb": str(use.lb)} for use in batch.uses],
        "heels": [{"batch": heel.of, "lb": str(heel.lb)} for heel in batch.heels],
        "lots_by_heel": [
            {"lot": each.lot.code, "heel_of": each.of, "lb": str(each.lb)} for each in batch.carried
        ],
        "parts": [
            {
                "order": part.order_number,
                "customer": part.customer,
                "ship_to": part.ship_to,
                "packages": [
                    {"serial": package.serial, "net_lb": str(package.net_lb)}
                    for package in part.packages
                ],
            }
            for part in batch.parts
        ],
    }


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


def _forward(asked: str, start: Start, lots: set[int], begun: Iterable[int] = ()) -> Trace:
    """Down: splits of the lots, batches they went into, those begun on their heels, rinse water.

    ``begun`` are batches to go down from beside the lots.
    """
    used: list[UsedRow] = []
    batches: set[int] = set()
    new, first = set(lots), set(begun)
    while new or first:
        splits = StockLot.objects.filter(split_from__in=new)
        found = _uses(lot__in=new)
        used += found
        into = ({batch for _, batch, _ in found} | first) - batches
        first = set()
        heels = HeelCarried.objects.filter(of__in=into)
        into |= set(heels.values_list("into", flat=True)) - batches
        rinses = TankRinse.objects.filter(batch__in=into, lot__isnull=False)
        batches |= into
        new = _ids(splits) | set(rinses.values_list("lot", flat=True))
        new -= lots
        lots |= new
    return _result(asked, start, lots, batches, used)


def _backward(
    asked: str, start: Start, batches: set[int], package: PackageSerial | None = None
) -> Trace:
    """Up: lots of the batches, what those were split from, batches heels and rinse water are of."""
    used: list[UsedRow] = []
    lots: set[int] = set()
    new = set(batches)
    while new:
        found = _uses(batch__in=new)
        used += found
        above = {lot for lot, _, _ in found} - lots
        while above:
            lots |= above
            above = _ids(StockLot.objects.filter(splits__in=above)) - lots
        rinses = TankRinse.objects.filter(lot__in=lots, batch__isnull=False)
        heels = HeelCarried.objects.filter(into__in=new)
        new = set(rinses.values_list("batch", flat=True)) | set(heels.values_list("of", flat=True))
        new -= batches
        batches |= new
    return _result(asked, start, lots, batches, used, package)


#: Lot, batch and pounds (negative) where something stayed in the batch.
UsedRow = tuple[int, int, Decimal]


def _uses(**of: Iterable[int]) -> list[UsedRow]:
    movements = StockMovement.objects.filter(batch__isnull=False, **of)
    sums = movements.order_by("batch", "lot").values_list("lot", "batch")
    return list(sums.annotate(lb=Sum("mass_lb")).filter(lb__lt=0))


def _pounds(lb: Decimal) -> Decimal:
    """To the thousandth, like every weighed mass; a share of a lot is computed."""
    return round(lb, PLACES)


def _ids(lots: QuerySet[StockLot]) -> set[int]:
    return set(lots.values_list("pk", flat=True))


def _result(
    asked: str,
    start: Start,
    lot_ids: set[int],
    batch_ids: set[int],
    used: list[UsedRow],
    package: PackageSerial | None = None,
) -> Trace:
    lots = {
        lot.pk: lot
        for lot in StockLot.objects.filter(pk__in=lot_ids)
        .select_related("stock", "split_from")
        .order_by("code")
    }
    uses: dict[int, list[Use]] = defaultdict(list)
    for lot, batch, lb in used:
        uses[batch].append(Use(lots[lot], -lb))
    customers = (
        _parts(batch_ids, package)
        .order_by()
        .values_list("order_line__order__company__name", flat=True)
    )
    return Trace(
        asked,
        start,
        tuple(lots.values()),
        TracedBatches(batch_ids, uses, package),
        tuple(sorted(customers.distinct())),
        _packages(batch_ids, package).count(),
        len(batch_ids - uses.keys()),
    )


def _parts(batch_ids: Iterable[int], only: PackageSerial | None) -> QuerySet[BatchPart]:
    """Parts of the batches; of the batch of ``only`` just the part it was filled from."""
    parts = BatchPart.objects.filter(batch__in=batch_ids)
    if only is not None:
        parts = parts.exclude(Q(batch=only.part.batch_id) & ~Q(pk=only.part_id))
    return parts


def _packages(batch_ids: Iterable[int], only: PackageSerial | None) -> QuerySet[PackageSerial]:
    """Packages of the batches; of the batch of ``only`` just that one."""
    packages = PackageSerial.objects.filter(part__batch__in=batch_ids)
    if only is not None:
        packages = packages.exclude(Q(part__batch=only.part.batch_id) & ~Q(pk=only.pk))
    return packages


def _parts_of(
    rows: Sequence[tuple[int, str, str]], only: PackageSerial | None
) -> tuple[dict[int, list[tuple[int, TracedPart]]], dict[int, tuple[str, str]]]:
    """Revision and part by batch, and blend name and grade by revision; four queries."""
    ids = [pk for pk, _, _ in rows]
    filled: dict[int, list[TracedPackage]] = defaultdict(list)
    for part, serial, net_lb in (
        _packages(ids, only).order_by("serial").values_list("part", "serial", "net_lb")
    ):
        filled[part].append(TracedPackage(serial, net_lb))
    values = list(
        _parts(ids, only)
        .order_by("batch", "position")
        .values_list(
            "pk",
            "batch",
            "order_line__revision",
            "order_line__order__number",
            "order_line__order__company__name",
            "order_line__order__ship_to",
        )
    )
    ship_tos = ShipTo.objects.in_bulk({row[5] for row in values})
    found: dict[int, list[tuple[int, TracedPart]]] = defaultdict(list)
    for pk, batch, revision, order, customer, ship_to in values:
        traced = TracedPart(order, customer, str(ship_tos[ship_to]), tuple(filled.get(pk, ())))
        found[batch].append((revision, traced))
    revisions = BlendRevision.objects.filter(pk__in={row[2] for row in values})
    named = revisions.values_list("pk", "blend__name", "grade")
    return found, {pk: (name, grade) for pk, name, grade in named}
