"""What monitoring asks of the queue: how much waits, how long, what failed, who works."""

from django.db.models import Count, Min, Q
from django.utils import timezone
from django_tasks_db.models import DBTaskResult

from blendshop.jobs.models import WorkerBeat
from blendshop.monitoring.metrics import asked_when_scraped


def tasks_by_state() -> dict[str, float]:
    """Rows of the queue by state; a state without any is 0, so that an alarm has a figure."""
    counted = dict(DBTaskResult.objects.values_list("status").annotate(Count("pk")).order_by())
    return {
        "waiting": counted.get("READY", 0),
        "running": counted.get("RUNNING", 0),
        "failed": counted.get("FAILED", 0),
    }


def oldest_wait_seconds() -> dict[str, float]:
    """How long the oldest task that is due has waited since it was; 0 when none is."""
    now = timezone.now()
    planned = Q(run_after__lte=now)
    due = DBTaskResult.objects.ready().aggregate(
        at_once=Min("enqueued_at", filter=~planned), planned=Min("run_after", filter=planned)
    )
    return {
        "": max(((now - begun).total_seconds() for begun in due.values() if begun), default=0.0)
    }


def workers_alive() -> dict[str, float]:
    return {"": WorkerBeat.objects.alive().count()}


def register() -> None:
    asked_when_scraped("tasks", "Tasks on the queue.", tasks_by_state, label="state")
    asked_when_scraped("task_wait_seconds", "Wait of the oldest task due.", oldest_wait_seconds)
    asked_when_scraped("workers_alive", "Workers heard of in the last minute.", workers_alive)
