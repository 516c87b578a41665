"""Retained samples: what is kept, what may be thrown out, which released batches have none."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date, datetime, time, timedelta
from typing import Final

from django.db.models import Exists, OuterRef
from django.utils import timezone

from orders.models import Batch, BatchEvent, RetainedSample
from orders.models.batch import BatchQuerySet

#: As a plan says: twelve months (common practice, no source). No state text read asks the maker to
#: keep a sample; states keep theirs 30 to 90 days (W. Va. Code 19-15-6; 3 Pa.C.S. 6708), so a
#: year outlives them.
KEEP_DAYS: Final = 365
_MOST_LISTED: Final = 50
#: Of what the day shows; the page of samples has more.
MOST_OF_THE_DAY: Final = 10


@dataclass(frozen=True, slots=True)
class Samples:
    """``missing`` are batches released within a year of which no sample was ever written down.

    Of both the first; ``has_more_missing`` where more batches than these have none.
    """

    overdue: tuple[RetainedSample, ...]
    overdue_count: int
    missing: tuple[Batch, ...]
    has_more_missing: bool
    kept: int

    @property
    def any(self) -> bool:
        return bool(self.overdue or self.missing)


def samples_today(today: date, most: int = _MOST_LISTED) -> Samples:
    """The first ``most`` of what is overdue and missing; a fixed number of queries."""
    kept = RetainedSample.objects.filter(discarded__isnull=True)
    overdue = kept.filter(keep_until__lt=today).select_related("batch")
    missing = _without_sample(today)
    newest = list(missing.order_by("-pk").values_list("pk", flat=True)[: most + 1])
    return Samples(
        overdue=tuple(overdue.order_by("keep_until", "pk")[:most]),
        overdue_count=overdue.count(),
        missing=tuple(Batch.objects.filter(pk__in=newest[:most]).for_long_list().order_by("-pk")),
        has_more_missing=len(newest) > most,
        kept=kept.count(),
    )


def _without_sample(today: date) -> BatchQuerySet:
    """Released within the time a sample is kept."""
    first_day = today - timedelta(days=KEEP_DAYS)
    since = timezone.make_aware(datetime.combine(first_day, time.min))
    released = BatchEvent.objects.filter(
        batch=OuterRef("pk"), to_status=Batch.Status.RELEASED, at__gte=since
    )
    kept = RetainedSample.objects.filter(batch=OuterRef("pk"))
    return Batch.objects.filter(Exists(released), ~Exists(kept), status=Batch.Status.RELEASED)
