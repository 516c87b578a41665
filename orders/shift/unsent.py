"""What tablets last said of weights they had still to send. Only the tablet itself knows."""

from orders.models import Batch, UnsentWeights


def unsent_reports() -> list[UnsentWeights]:
    """The newest word of each tablet that had something left, longest ago first."""
    rows = UnsentWeights.objects.filter(count__gt=0).exclude(batch__status=Batch.Status.CANCELLED)
    return list(rows.select_related("batch", "by").order_by("seen_at", "pk"))
