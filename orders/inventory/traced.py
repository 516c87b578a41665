"""What a trace finds, as plain values, and how those are read for the batches a person looks at."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from decimal import Decimal
from enum import StrEnum
from typing import Final, overload

from django.db.models import Q, QuerySet

from orders.models import Batch, BatchPart, HeelCarried, PackageSerial, ShipTo, StockLot
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

    @property
    def numbers(self) -> tuple[str, ...]:
        return tuple(self._numbers.values())

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
        parts = _parts_of(rows, self._only)
        heels = self._heels_under([pk for pk, _, _ in rows])
        for pk, number, status in rows:
            of_batch = parts[pk]
            yield TracedBatch(
                number,
                status,
                of_batch[0][0],
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


def _pounds(lb: Decimal) -> Decimal:
    """To the thousandth, like every weighed mass; a share of a lot is computed."""
    return round(lb, PLACES)


def parts_in(batch_ids: Iterable[int], only: PackageSerial | None) -> QuerySet[BatchPart]:
    """Parts of the batches; of the batch of ``only`` just the part it was filled from."""
    parts = BatchPart.objects.filter(batch__in=batch_ids)
    if only is not None:
        parts = parts.exclude(Q(batch=only.part.batch_id) & ~Q(pk=only.part_id))
    return parts


def packages_in(batch_ids: Iterable[int], only: PackageSerial | None) -> QuerySet[PackageSerial]:
    """Packages of the batches; of the batch of ``only`` just that one."""
    packages = PackageSerial.objects.filter(part__batch__in=batch_ids)
    if only is not None:
        packages = packages.exclude(Q(part__batch=only.part.batch_id) & ~Q(pk=only.pk))
    return packages


def _parts_of(
    rows: Sequence[tuple[int, str, str]], only: PackageSerial | None
) -> dict[int, list[tuple[str, TracedPart]]]:
    """Blend's name and part by batch; three queries."""
    ids = [pk for pk, _, _ in rows]
    filled: dict[int, list[TracedPackage]] = defaultdict(list)
    for part, serial, net_lb in (
        packages_in(ids, only).order_by("serial").values_list("part", "serial", "net_lb")
    ):
        filled[part].append(TracedPackage(serial, net_lb))
    values = list(
        parts_in(ids, only)
        .order_by("batch", "position")
        .values_list(
            "pk",
            "batch",
            "order_line__revision__blend__name",
            "order_line__order__number",
            "order_line__order__company__name",
            "order_line__order__ship_to",
        )
    )
    ship_tos = ShipTo.objects.in_bulk({row[5] for row in values})
    found: dict[int, list[tuple[str, TracedPart]]] = defaultdict(list)
    for pk, batch, blend, order, customer, ship_to in values:
        traced = TracedPart(order, customer, str(ship_tos[ship_to]), tuple(filled.get(pk, ())))
        found[batch].append((blend, traced))
    return found
