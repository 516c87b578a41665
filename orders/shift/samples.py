"""Retained samples: what is kept, what may be thrown out, which released batches have none."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date, timedelta
from typing import Final

from orders.models import Batch, BatchEvent, RetainedSample

#: As a plan says: twelve months (common practice, no source). No state text read asks the maker to
#: keep a sample; states keep theirs 30 to 90 days (W. Va. Code 19-15-6; 3 Pa.C.S. 6708), so a
#: year outlives them.
KEEP_DAYS: Final = 365
_MOST_LISTED: Final = 50


@dataclass(frozen=True, slots=True)
class Samples:
    """``missing`` are batches released within a year of which no sample was ever written down."""

    overdue: tuple[RetainedSample, ...]
    missing: tuple[Batch, ...]
    kept: int

    @property
    def any(self) -> bool:
        return bool(self.overdue or self.missing)


def samples_today(today: date) -> Samples:
    """Three queries."""
    kept = RetainedSample.objects.filter(discarded__isnull=True)
    overdue = kept.filter(keep_until__lt=today).select_related("batch")
    return Samples(
        overdue=tuple(overdue.order_by("keep_until", "pk")[:_MOST_LISTED]),
        missing=tuple(without_sample(today)[:_MOST_LISTED]),
        kept=kept.count(),
    )


def without_sample(today: date) -> list[Batch]:
    """Released within the time a sample is kept, the newest first."""
    since = today - timedelta(days=KEEP_DAYS)
    events = BatchEvent.objects.filter(to_status=Batch.Status.RELEASED, at__date__gte=since)
    released = Batch.objects.filter(
        status=Batch.Status.RELEASED, samples__isnull=True, pk__in=events.values("batch")
    )
    newest = list(released.order_by("-pk").values_list("pk", flat=True)[:_MOST_LISTED])
    return list(Batch.objects.filter(pk__in=newest).for_long_list().order_by("-pk"))
