"""The queue's own tasks."""

from django.utils import timezone

from blendshop.jobs.actions import tidy
from blendshop.jobs.queue import task


@task
def tidy_queue() -> int:
    """Daily: forget what was done long ago; how many tasks."""
    return tidy(timezone.now())
