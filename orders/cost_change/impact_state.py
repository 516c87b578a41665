"""What an impact was worked out from, and which one a page shows."""

from __future__ import annotations

from datetime import date

from django.db.models import Max

from formulas.catalogue_version.keeping import version
from formulas.models import BlendRevision
from orders.models import CostChange, CostImpact, OrderEvent, QuoteEvent


def impact_state(today: date) -> str:
    """Changes with the catalogue, the day, and with what happens to quotes, orders and blends."""
    newest = (
        QuoteEvent.objects.aggregate(newest=Max("pk")),
        OrderEvent.objects.aggregate(newest=Max("pk")),
        BlendRevision.objects.aggregate(newest=Max("pk")),
    )
    return " ".join([version() or "", today.isoformat(), *(str(row["newest"]) for row in newest)])


def shown_impact(change: CostChange) -> CostImpact | None:
    """The newest that was worked out, for the costs as they stand; without its packed blends."""
    done = change.impacts.filter(worked_out_at__isnull=False, version=change.version)
    found: CostImpact | None = done.select_related("work").defer("blends").first()
    return found


def impact_under_way(change: CostChange) -> CostImpact | None:
    """What is being worked out for the costs as they stand."""
    for impact in change.impacts.filter(worked_out_at=None, version=change.version).select_related(
        "work"
    ):
        if impact.work is not None and impact.work.is_open:
            return impact
    return None
