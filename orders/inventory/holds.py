"""Which batches a lot on hold stops. They read the hold; nothing of it is copied to them.

A batch is stopped by every held lot it was charged from, and by those of the batches whose heel or
rinse water went into it. A lot that is held takes what was split from it along, see ``hold_lot``;
lifting a hold frees the batches without another word.

A recall stops the batches it holds, and every batch that was begun on a heel of one, until a
formulator frees them.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Mapping

from django.db.models import Sum
from django.utils.translation import gettext as _

from blendshop.errors import IllegalMove
from orders.models import Batch, HeelCarried, HeldByRecall, StockLot, StockMovement, TankRinse


def held_lots(batch_ids: Iterable[int]) -> dict[int, tuple[StockLot, ...]]:
    """The lots on hold in each batch, by its id and only where there are any.

    Three queries a round of heels and rinse water and one more, whatever the number of batches.
    """
    wanted = set(batch_ids)
    lots, came_from = _charged_from(wanted)
    every_lot = {lot for of_batch in lots.values() for lot in of_batch}
    held = {
        lot.pk: lot
        for lot in StockLot.objects.filter(pk__in=every_lot, state=StockLot.State.HELD)
        .select_related("stock")
        .order_by("code")
    }
    found = {}
    for batch in wanted if held else ():
        inside = {lot for each in _with_sources(batch, came_from) for lot in lots.get(each, ())}
        if stopping := tuple(lot for pk, lot in held.items() if pk in inside):
            found[batch] = stopping
    return found


def hold_words(lots: Iterable[StockLot]) -> str:
    """``L-2026-0003 (potash) is on hold: crystals.`` for each of the lots."""
    return " ".join(
        f"{lot.code} ({lot.stock.name}) is on hold: {lot.held_reason.rstrip('.')}." for lot in lots
    )


def recalled(batch_ids: Iterable[int]) -> dict[int, tuple[str, ...]]:
    """Numbers of the recalls that stop each batch, by its id; two queries."""
    wanted = set(batch_ids)
    held = HeldByRecall.objects.filter(recall__freed_at__isnull=True)
    stopped = set(held.filter(batch__in=wanted).values_list("batch", "recall__number"))
    begun_on = HeelCarried.objects.filter(
        into__in=wanted, of__recalls__recall__freed_at__isnull=True, of__recalls__isnull=False
    )
    stopped |= set(begun_on.values_list("into", "of__recalls__recall__number"))
    found: dict[int, list[str]] = defaultdict(list)
    for batch, number in sorted(stopped):
        found[batch].append(number)
    return {batch: tuple(numbers) for batch, numbers in found.items()}


def recall_words(numbers: Iterable[str]) -> str:
    """``Recall R-2026-0001 holds it.`` for each of the recalls."""
    return " ".join(_("Recall %(number)s holds it.") % {"number": number} for number in numbers)


def hold_words_by_batch(batch_ids: Iterable[int]) -> dict[int, str]:
    """What stops each batch, in words, by its id; only where something does."""
    wanted = set(batch_ids)
    words = {batch: hold_words(lots) for batch, lots in held_lots(wanted).items()}
    for batch, numbers in recalled(wanted).items():
        words[batch] = " ".join(filter(None, [words.get(batch, ""), recall_words(numbers)]))
    return words


def require_no_hold(batches: Iterable[Batch]) -> None:
    """Raise IllegalMove, naming batch, lot and recall, while one of them stops a batch."""
    numbers = {batch.pk: batch.number for batch in batches}
    in_recall = [
        f"{numbers[batch]} is not to leave. {recall_words(recalls)}"
        for batch, recalls in sorted(recalled(numbers).items())
    ]
    if in_recall:
        raise IllegalMove(
            _(
                "%(in_recall)s Nothing of it is released, filled or shipped until a"
                " formulator frees what the recall holds."
            )
            % {"in_recall": " ".join(in_recall)}
        )
    told = [
        f"There is something of a lot on hold in {numbers[batch]}. {hold_words(lots)}"
        for batch, lots in sorted(held_lots(numbers).items())
    ]
    if told:
        raise IllegalMove(
            _(
                "%(told)s Nothing of it is released, filled or shipped until a"
                " formulator lets the lot be used again."
            )
            % {"told": " ".join(told)}
        )


def _charged_from(batches: set[int]) -> tuple[dict[int, set[int]], dict[int, set[int]]]:
    """Lots by batch, without reversed charges, and by batch those whose heel or rinse it has."""
    lots: dict[int, set[int]] = defaultdict(set)
    came_from: dict[int, set[int]] = defaultdict(set)
    new, seen = set(batches), set(batches)
    while new:
        movements = StockMovement.objects.filter(batch__in=new).order_by("batch", "lot")
        sums = movements.values_list("batch", "lot").annotate(lb=Sum("mass_lb"))
        users: dict[int, set[int]] = defaultdict(set)
        for batch, lot, _lb in sums.filter(lb__lt=0):
            lots[batch].add(lot)
            users[lot].add(batch)
        heels = list(HeelCarried.objects.filter(into__in=new).values_list("into", "of"))
        new = set()
        of_lots = TankRinse.objects.filter(lot__in=users).order_by().values_list("lot", "batch")
        for lot, source in of_lots:
            for user in users[lot]:
                came_from[user].add(source)
            new.add(source)
        for into, source in heels:
            came_from[into].add(source)
            new.add(source)
        new -= seen
        seen |= new
    return lots, came_from


def _with_sources(batch: int, came_from: Mapping[int, set[int]]) -> set[int]:
    """The batch and all whose heel or rinse water reached it."""
    found, above = {batch}, {batch}
    while above:
        above = {source for each in above for source in came_from.get(each, ())} - found
        found |= above
    return found
