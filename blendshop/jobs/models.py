"""Who works on the queue, and when recurring tasks were last put on it."""

from datetime import timedelta
from typing import Final

from django.db import models
from django.db.models.functions import Now

#: A worker that has not been heard of for so long is dead. Several beats, so that one
#: lost to a busy database costs nothing.
STALE_AFTER: Final = timedelta(seconds=60)


class WorkerBeatQuerySet(models.QuerySet["WorkerBeat"]):
    def alive(self) -> "WorkerBeatQuerySet":
        """Workers heard of lately, by the database's clock: hosts need not agree on the time."""
        return self.filter(beat_at__gte=Now() - STALE_AFTER)


class WorkerBeat(models.Model):
    """A worker and when it was last heard of; it writes this from a thread of its own."""

    name = models.CharField(max_length=64, unique=True)
    started_at = models.DateTimeField(db_default=Now())
    beat_at = models.DateTimeField(db_default=Now(), db_index=True)

    objects = WorkerBeatQuerySet.as_manager()

    def __str__(self) -> str:
        return self.name


class RecurringRun(models.Model):
    """When a recurring task was last put on the queue, by whichever worker came first."""

    path = models.CharField(max_length=200, unique=True)
    last_at = models.DateTimeField(null=True)

    def __str__(self) -> str:
        return self.path
