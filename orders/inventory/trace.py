"""Where a lot went and where a package came from, both ways: splits, heels, rinse water included.

Each round asks the database four questions about everything found so far, whatever the number
of lots and batches, so a trace costs the same few queries in a plant with 100,000 movements.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable
from decimal import Decimal

from django.db.models import Q, QuerySet, Sum

from orders.inventory.traced import Start, Trace, TracedBatches, Use, packages_in, parts_in
from orders.models import (
    Batch,
    HeelCarried,
    PackageSerial,
    StockLot,
    StockMovement,
    TankRinse,
)
from orders.records.scanned import scanned_number


def trace(text: str) -> Trace | None:
    """What a code, number or serial is connected with; None when nobody has given it out.

    Read in this order: our lot code, package serial, batch number, order number, supplier's lot.
    An address that a scanner read off one of our codes stands for what it leads to.
    """
    asked = scanned_number(text)
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
        parts_in(batch_ids, package)
        .order_by()
        .values_list("order_line__order__company__name", flat=True)
    )
    return Trace(
        asked,
        start,
        tuple(lots.values()),
        TracedBatches(batch_ids, uses, package),
        tuple(sorted(customers.distinct())),
        packages_in(batch_ids, package).count(),
        len(batch_ids - uses.keys()),
    )
