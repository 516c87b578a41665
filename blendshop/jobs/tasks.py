"""The queue's own tasks."""

from typing import Final

from django.db import connection
from django.utils import timezone

from blendshop.jobs.actions import tidy
from blendshop.jobs.queue import task

#: Rows of an index that are looked at: enough to know how many there are of a kind.
_LOOKED_AT: Final = 1_000


@task
def tidy_queue() -> int:
    """Daily: forget what was done long ago; how many tasks."""
    return tidy(timezone.now())


@task
def count_rows_for_plans() -> None:
    """Daily: SQLite learns what its tables have become; a server of PostgreSQL does by itself."""
    if connection.vendor == "sqlite":
        with connection.cursor() as cursor:
            cursor.execute(f"PRAGMA analysis_limit = {_LOOKED_AT:d}")
            cursor.execute("ANALYZE")
