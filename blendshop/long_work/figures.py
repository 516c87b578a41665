"""What monitoring asks of long work: how much is open, how much went wrong, how long it waits."""

from django.db.models import Count, Min
from django.utils import timezone

from blendshop.long_work.models import LongWork
from blendshop.monitoring.metrics import asked_when_scraped


def work_by_state() -> dict[str, float]:
    """Pieces of work by state, of the days they are kept; a state without any is 0."""
    counted = dict(LongWork.objects.values_list("state").annotate(Count("pk")).order_by())
    return {state: counted.get(state, 0) for state in LongWork.State.values}


def oldest_open_seconds() -> dict[str, float]:
    """How long ago the oldest open work was asked for; 0 without any."""
    asked = LongWork.objects.open().aggregate(at=Min("asked_at"))["at"]
    return {"": (timezone.now() - asked).total_seconds() if asked else 0.0}


def register() -> None:
    asked_when_scraped("long_work", "Long work.", work_by_state, label="state")
    asked_when_scraped("long_work_seconds", "Age of the oldest open work.", oldest_open_seconds)
