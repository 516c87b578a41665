"""What monitoring asks of the queue: how much waits, how long, what failed, who works."""

from django.db.models import Count
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
    """How long the oldest task that is due has waited; 0 when none is."""
    now = timezone.now()
    due = DBTaskResult.objects.filter(status="READY").exclude(run_after__gt=now)
    begun = due.order_by("enqueued_at").values_list("enqueued_at", flat=True).first()
    return {"": 0.0 if begun is None else max(0.0, (now - begun).total_seconds())}


def workers_alive() -> dict[str, float]:
    return {"": WorkerBeat.objects.alive().count()}


def register() -> None:
    asked_when_scraped("tasks", "Tasks on the queue.", tasks_by_state, label="state")
    asked_when_scraped("task_wait_seconds", "Wait of the oldest task due.", oldest_wait_seconds)
    asked_when_scraped("workers_alive", "Workers heard of in the last minute.", workers_alive)
