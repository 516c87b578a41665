"""What a customer was delivered, lot by lot, with the papers of each."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Collection, Iterable, Mapping
from dataclasses import dataclass

from django.db.models import Exists, OuterRef, Q

from blendshop.accounts.models import User
from formulas.models import RevisionLine
from orders.models import BatchPart, HeldByRecall, Paper, SafetySheet
from orders.models.batch import BatchPartQuerySet
from orders.production.grades import grades_of_parts


@dataclass(frozen=True, slots=True)
class LotPapers:
    """One lot of a customer: what it is, its newest paper of each kind, whether it is called back.

    ``papers`` are listed: their bytes and snapshots are not read. ``sheets`` are the newest safety
    data sheets of the blend, and of its stocks for who reads recipes; without their bytes.
    """

    part: BatchPart
    grade: str
    papers: tuple[Paper, ...]
    is_called_back: bool
    sheets: tuple[SafetySheet, ...] = ()

    @property
    def pk(self) -> int:
        return self.part.pk

    @property
    def has_blend_sheet(self) -> bool:
        """Whether there is a safety data sheet of the product itself."""
        return has_blend_sheet(self.sheets)


def find_lots(user: User, text: str = "") -> BatchPartQuerySet:
    """Parts of batches a person may have papers of, the newest first; by lot, order or product."""
    readable = Paper.objects.visible_to(user)
    of_part = readable.filter(part=OuterRef("pk"))
    of_order = readable.filter(order=OuterRef("order_line__order"))
    lots = BatchPart.objects.visible_to(user).live().filter(Exists(of_part) | Exists(of_order))
    if text := text.strip():
        lots = lots.filter(
            Q(batch__number__icontains=text)
            | Q(order_line__order__number__icontains=text)
            | Q(order_line__order__customer_reference__icontains=text)
            | Q(order_line__revision__blend__name__icontains=text)
        )
    found: BatchPartQuerySet = lots.order_by("-pk")
    return found


def read_lots(parts: BatchPartQuerySet, user: User) -> list[LotPapers]:
    """The lots with what a page shows of them, in a fixed number of queries."""
    found = list(parts.select_related("batch", "order_line__order", "order_line__revision__blend"))
    papers = papers_of_parts(found, user)
    grades = grades_of_parts(part.pk for part in found)
    called = called_back(part.batch_id for part in found)
    sheets = sheets_of_parts(found, user)
    return [
        LotPapers(part, grades[part.pk], papers[part.pk], part.batch_id in called, sheets[part.pk])
        for part in found
    ]


def has_blend_sheet(sheets: Iterable[SafetySheet]) -> bool:
    """Whether one of them is of the blend; those of its stocks do not stand for it."""
    return any(sheet.blend_id is not None for sheet in sheets)


def sheets_of_parts(
    parts: Collection[BatchPart], user: User
) -> Mapping[int, tuple[SafetySheet, ...]]:
    """By part: the newest safety data sheets a person may read of what was ordered."""
    revisions = {part.pk: part.order_line.revision for part in parts}
    stocks: dict[int, set[int]] = defaultdict(set)
    lines = RevisionLine.objects.filter(revision__in=list(revisions.values()))
    for revision, stock in lines.values_list("revision", "stock"):
        stocks[revision].add(stock)
    blends = {revision.blend_id for revision in revisions.values()}
    of_any = Q(blend__in=blends) | Q(stock__in=set().union(*stocks.values()))
    read = SafetySheet.objects.visible_to(user).newest().filter(of_any).defer("pdf")
    found = list(read.select_related("stock").order_by("stock__code", "pk"))
    return {
        pk: tuple(
            sheet
            for sheet in found
            if sheet.blend_id == revision.blend_id or sheet.stock_id in stocks[revision.pk]
        )
        for pk, revision in revisions.items()
    }


def papers_of_parts(parts: Collection[BatchPart], user: User) -> Mapping[int, tuple[Paper, ...]]:
    """By part: the newest of each kind that the user may read, of the part and of its order."""
    orders = {part.pk: part.order_line.order_id for part in parts}
    readable = Paper.objects.visible_to(user).listed()
    own = readable.filter(Q(part__in=orders) | Q(order__in=set(orders.values())))
    newest: dict[tuple[str, int], dict[str, Paper]] = defaultdict(dict)
    for paper in own.select_related("part__batch", "order").order_by("pk"):
        of = ("part", paper.part_id) if paper.part_id else ("order", paper.order_id)
        newest[of][paper.kind] = paper
    return {
        pk: (*newest["part", pk].values(), *newest["order", order].values())
        for pk, order in orders.items()
    }


def called_back(batch_ids: Iterable[int]) -> set[int]:
    """Batches that a recall holds and that a formulator has written to customers about."""
    holding = HeldByRecall.objects.filter(batch__in=set(batch_ids), recall__freed_at__isnull=True)
    return set(holding.exclude(recall__customer_reason="").values_list("batch", flat=True))
