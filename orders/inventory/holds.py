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

from django.db.models import Q, Sum
from django.utils.translation import gettext as _

from blendshop.errors import IllegalMove
from orders.models import Batch, HeelCarried, HeldByRecall, StockLot, StockMovement, TankRinse


def held_lots(batch_ids: Iterable[int]) -> dict[int, tuple[StockLot, ...]]:
    """The lots on hold in each batch, by its id and only where there are any.

    One query while no lot is on hold, else three more a round of heels and rinse water, whatever
    the number of batches.
    """
    wanted = set(batch_ids)
    held = StockLot.objects.filter(state=StockLot.State.HELD).select_related("stock")
    stopping = list(held.order_by("code")) if wanted else []
    if not stopping:
        return {}
    lots, came_from = _charged_from(wanted)
    found = {}
    for batch in wanted:
        inside = {lot for each in _with_sources(batch, came_from) for lot in lots.get(each, ())}
        if in_it := tuple(lot for lot in stopping if lot.pk in inside):
            found[batch] = in_it
    return found


def hold_words(lots: Iterable[StockLot]) -> str:
    """``L-2026-0003 (potash) is on hold: crystals.`` for each of the lots."""
    return " ".join(
        f"{lot.code} ({lot.stock.name}) is on hold: {lot.held_reason.rstrip('.')}." for lot in lots
    )


def recalled(batch_ids: Iterable[int]) -> dict[int, tuple[str, ...]]:
    """Numbers of the recalls that stop each batch, by its id; one query."""
    wanted = set(batch_ids)
    went_into = "batch__heel_went_into__into"
    held = HeldByRecall.objects.filter(
        Q(batch__in=wanted) | Q(**{f"{went_into}__in": wanted}), recall__freed_at__isnull=True
    )
    stopped: set[tuple[int, str]] = set()
    for itself, begun_on_it, number in held.values_list("batch", went_into, "recall__number"):
        stopped |= {(batch, number) for batch in (itself, begun_on_it) if batch in wanted}
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
