"""Long work of long ago goes, with its files."""

from datetime import datetime, timedelta
from typing import Final

from django.db import transaction
from django.utils import timezone

from blendshop.jobs.queue import task
from blendshop.long_work.models import LongWork

#: So long a piece of work and its files are there.
KEEP: Final = timedelta(days=7)


@task
def tidy_long_work() -> int:
    """Daily: forget what was asked long ago; how many."""
    return tidy(timezone.now())


def tidy(now: datetime) -> int:
    """Forget work asked for longer than ``KEEP`` before ``now``, ended or not; how many."""
    gone = 0
    for work in LongWork.objects.filter(asked_at__lt=now - KEEP).only("upload", "download"):
        files = [each for each in (work.upload, work.download) if each]
        # Rows first: a file without a row costs space, a row without its file a broken page.
        with transaction.atomic():
            work.delete()
        for each in files:
            each.delete(save=False)
        gone += 1
    return gone
