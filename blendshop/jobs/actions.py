"""What workers write beside the tasks themselves: beats, orphans, what recurs, what is old."""

import logging
from datetime import datetime, timedelta
from typing import Any, Final

from django.db import transaction
from django.db.models import Q
from django.db.models.functions import Now
from django.utils import timezone
from django.utils.module_loading import import_string
from django_tasks import TaskResultStatus
from django_tasks_db.models import DBTaskResult

from blendshop.jobs.models import RecurringRun, WorkerBeat
from blendshop.jobs.queue import Task
from blendshop.jobs.schedule import recurring

logger = logging.getLogger(__name__)

#: So often a task is begun whose workers die; then it is what kills them.
MOST_TRIES: Final = 3
#: So long finished and failed tasks stay readable.
KEEP_FINISHED: Final = timedelta(days=7)
KEEP_FAILED: Final = timedelta(days=90)


class WorkerDied(Exception):
    """Stands in a failed task when its workers died rather than it raising."""


def beat(name: str) -> None:
    """Say that the worker ``name`` is alive."""
    if not WorkerBeat.objects.filter(name=name).update(beat_at=Now()):
        WorkerBeat.objects.create(name=name)


def sign_off(name: str) -> None:
    """The worker ``name`` ends in good order."""
    WorkerBeat.objects.filter(name=name).delete()


def claim_next(name: str) -> DBTaskResult[Any, Any] | None:
    """The task that is due and first in line, now running for the worker ``name``."""
    # SQLite's transactions are IMMEDIATE, so that nobody claims between reading and writing.
    with transaction.atomic():
        claimed = DBTaskResult.objects.ready().get_locked()
        if claimed is not None:
            claimed.claim(name)
    return claimed


def requeue_orphans() -> int:
    """Give running tasks of dead workers back to the queue; how many.

    After ``MOST_TRIES`` a task is failed instead. Safe while others do the same.
    """
    # Tasks before workers: who claims one has beaten before, so it is found in the second reading.
    running = list(DBTaskResult.objects.running())
    alive = set(WorkerBeat.objects.alive().values_list("name", flat=True)) if running else set()
    found = 0
    for orphan in running:
        if orphan.worker_ids and orphan.worker_ids[-1] in alive:
            continue
        still_so = DBTaskResult.objects.filter(
            pk=orphan.pk, status=TaskResultStatus.RUNNING, started_at=orphan.started_at
        )
        if len(orphan.worker_ids) < MOST_TRIES:
            found += still_so.update(status=TaskResultStatus.READY, started_at=None)
        elif still_so.update(
            status=TaskResultStatus.FAILED,
            finished_at=timezone.now(),
            exception_class_path=f"{WorkerDied.__module__}.{WorkerDied.__qualname__}",
            traceback=f"The worker died {MOST_TRIES} times over this task.",
        ):
            found += 1
            logger.error("Task %s is given up: its worker died %d times", orphan.pk, MOST_TRIES)
    return found


def enqueue_recurring(now: datetime) -> list[str]:
    """Put on the queue what is due at ``now``; the paths. Of many workers one does it."""
    last = dict(RecurringRun.objects.values_list("path", "last_at"))
    begun = []
    for each in recurring():
        if not each.is_due(last.get(each.path), now):
            continue
        if each.path not in last:
            RecurringRun.objects.get_or_create(path=each.path)
        before = Q(last_at=None) | Q(last_at__lt=each.due_if_before(now))
        with transaction.atomic():
            if RecurringRun.objects.filter(before, path=each.path).update(last_at=now):
                job: Task[[], None] = import_string(each.path)
                job.enqueue()
                begun.append(each.path)
    return begun


def tidy(now: datetime) -> int:
    """Forget tasks done long ago and workers long dead; how many tasks."""
    old = Q(status=TaskResultStatus.SUCCESSFUL, finished_at__lt=now - KEEP_FINISHED) | Q(
        status=TaskResultStatus.FAILED, finished_at__lt=now - KEEP_FAILED
    )
    gone, _each = DBTaskResult.objects.filter(old).delete()
    WorkerBeat.objects.filter(beat_at__lt=now - KEEP_FINISHED).delete()
    return gone
