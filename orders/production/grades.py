"""The grade of many parts at once, the same as each one's own papers say.

A batch that was released with nothing in its way keeps every printed line, so its parts go by
their promised lines and nothing of its charges has to be read, unless a certificate of a lot in it
was replaced since. The records of all others are read at once.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Mapping, Sequence
from datetime import datetime
from decimal import Decimal
from typing import Any

from django.db.models import Exists, Max, OuterRef

from formulas.engine.label.grade_rules import GRADE_RULES, grade_rule
from formulas.engine.label.nitrogen_lines import grade_figure
from formulas.engine.label.printed_figures import digits, read
from formulas.engine.label.rules import PRIMARY, Kind
from orders.models import Batch, BatchEvent, BatchPart, LabelChange, LotEvent, LoweredPromise
from orders.models.batch import BatchPartQuerySet
from orders.production.made_record import made_records
from orders.production.sold_as import grade_of, sold_as

#: States in which nothing but the promise can decide.
_PROMISE_STANDS = (Batch.Status.PLANNED, Batch.Status.CHARGING, Batch.Status.CANCELLED)


def grades_of_parts(part_ids: Iterable[int]) -> dict[int, str]:
    """What each part is sold as, by its id; few queries whatever their number."""
    return _grades(_rows(BatchPart.objects.filter(pk__in=set(part_ids))))


def grades_of_batches(numbers: Iterable[str]) -> dict[str, str]:
    """What each batch is sold as, by its number; each grade where its parts have several."""
    rows = _rows(BatchPart.objects.filter(batch__number__in=set(numbers)))
    grades = _grades(rows)
    by_batch: dict[str, dict[str, None]] = defaultdict(dict)
    for row in rows:
        by_batch[row["batch__number"]][grades[row["pk"]]] = None
    return {number: " / ".join(of_batch) for number, of_batch in by_batch.items()}


def _rows(parts: BatchPartQuerySet) -> list[Mapping[str, Any]]:
    """What decides of each part whether its promise stands, in their order."""
    of_batch, of_part = OuterRef("batch"), OuterRef("pk")
    deciding = parts.order_by("batch", "position").annotate(
        is_lowered=Exists(LoweredPromise.objects.filter(batch=of_batch)),
        is_changed=Exists(LabelChange.objects.filter(part=of_part)),
    )
    return list(
        deciding.values(
            "pk",
            "batch_id",
            "batch__number",
            "batch__status",
            "batch__plan__tolerance_pct",
            "batch__plan__printed_pct",
            "delivery__printed_pct",
            "delivery__ship_to__state",
            "is_lowered",
            "is_changed",
        )
    )


def _grades(rows: Sequence[Mapping[str, Any]]) -> dict[int, str]:
    keeping = _keeping_their_promise(rows)
    found = {
        row["pk"]: _promised_grade(row)
        for row in rows
        if row["batch_id"] in keeping and not row["is_changed"] and _lines(row)
    }
    return found | _by_their_records({row["pk"] for row in rows} - found.keys())


def _keeping_their_promise(rows: Iterable[Mapping[str, Any]]) -> set[int]:
    status = {row["batch_id"]: row["batch__status"] for row in rows}
    released = [pk for pk, state in status.items() if state == Batch.Status.RELEASED]
    moves = BatchEvent.objects.filter(batch__in=released, to_status=Batch.Status.RELEASED)
    leaving = moves.exclude(from_status=Batch.Status.RELEASED)
    certified_at = _certified_at(released)
    clean = {
        batch
        for batch, data, at in leaving.values_list("batch", "data", "at")
        if data.get("hindrances") == [] and certified_at.get(batch, at) <= at
    }
    open_ones = {pk for pk, state in status.items() if state in _PROMISE_STANDS}
    return (clean | open_ones) - {row["batch_id"] for row in rows if row["is_lowered"]}


def _certified_at(batch_ids: Iterable[int]) -> dict[int, datetime]:
    """When the certificate of a lot in each batch was last replaced: what is in it may be less."""
    replaced = LotEvent.objects.filter(data__has_key="before", lot__charges__batch__in=batch_ids)
    by_batch = replaced.order_by().values_list("lot__charges__batch")
    return dict(by_batch.annotate(newest=Max("at")))


def _lines(row: Mapping[str, Any]) -> dict[str, Decimal]:
    """The part's promised lines; empty in plans of before there were any."""
    kept, own = row["batch__plan__printed_pct"] or {}, row["delivery__printed_pct"] or {}
    if row["batch__plan__tolerance_pct"] is None:
        return {}
    lines = {key: Decimal(pct) for key, pct in kept.items()}
    if not own:
        return lines
    return {key: min(pct, Decimal(own[key])) for key, pct in lines.items() if key in own}


def _promised_grade(row: Mapping[str, Any]) -> str:
    state, lines = row["delivery__ship_to__state"], _lines(row)
    rule = grade_rule(state if state in GRADE_RULES else None)
    return grade_of(
        {
            key: digits(grade_figure(read(float(lines[key])), rule, Kind.SPECIALTY))
            for key in PRIMARY
            if key in lines
        }
    )


def _by_their_records(part_ids: set[int]) -> dict[int, str]:
    if not part_ids:
        return {}
    parts = BatchPart.objects.filter(pk__in=part_ids).prefetch_related(
        "batch__lowered_promises", "label_changes"
    )
    records = made_records(part.batch for part in parts)
    return {part.pk: sold_as(records[part.batch_id], part).grade for part in parts}
