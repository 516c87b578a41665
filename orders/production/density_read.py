"""The density a batch was read at: what its record, and with it every paper, goes by.

One door, so that a reading a formulator set aside as wrong is a density nowhere.
"""

from __future__ import annotations

from collections.abc import Collection, Sequence
from dataclasses import dataclass

from orders.models import Batch, QualityReading


@dataclass(frozen=True, slots=True)
class BatchDensity:
    """lb/gal at ``temperature_f``; not ``is_read`` when no reading counts and it is calculated."""

    lb_per_gal: float
    temperature_f: float
    is_read: bool


def density_of(reading: QualityReading) -> BatchDensity:
    """What a reading that counts says."""
    return BatchDensity(reading.density_at_reference, reading.reference_f, is_read=True)


def counting_reading(batch: Batch) -> QualityReading | None:
    """The newest reading of the batch that was not set aside."""
    return counting_readings([batch]).get(batch.pk)


def counting_readings(batches: Collection[Batch | int]) -> dict[int, QualityReading]:
    """``counting_reading`` of those that have one, by the batch's id, in one query."""
    readings = QualityReading.objects.counting().filter(batch__in=batches).order_by("pk")
    return {reading.batch_id: reading for reading in readings}


def read_batches(batches: Sequence[Batch]) -> set[int]:
    """Keys of those that have a reading that counts."""
    readings = QualityReading.objects.counting().filter(batch__in=batches)
    return set(readings.values_list("batch", flat=True))
