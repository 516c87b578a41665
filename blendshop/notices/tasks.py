"""What recurs about notices."""

from datetime import timedelta
from itertools import groupby
from typing import Final

from django.db import transaction
from django.utils import timezone

from blendshop.jobs.queue import task
from blendshop.notices.mail import mail_daily
from blendshop.notices.models import Notice

#: So long what was read stays; then it is forgotten, and what is told of each year is told again.
KEEP_READ: Final = timedelta(days=360)


@task
def mail_notices_of_the_day() -> int:
    """Daily: one mail to each who wants it, of what is not read yet; how many mails."""
    waiting = Notice.objects.filter(waits_for_daily=True, person__is_active=True)
    unread = list(waiting.unread().select_related("person").order_by("person", "-at", "-pk"))
    posted = 0
    for person, notices in groupby(unread, key=lambda notice: notice.person):
        told = list(notices)
        with transaction.atomic():
            # Guarded: a task begun anew after a death mails nobody twice.
            mine = Notice.objects.filter(waits_for_daily=True, pk__in=[each.pk for each in told])
            if mine.update(waits_for_daily=False):
                mail_daily(person, told)
                posted += 1
    Notice.objects.filter(waits_for_daily=True).exclude(read_at=None).update(waits_for_daily=False)
    return posted


@task
def tidy_notices() -> int:
    """Daily: forget what was read long ago; how many."""
    _each, gone = Notice.objects.filter(read_at__lt=timezone.now() - KEEP_READ).delete()
    return gone.get(Notice._meta.label, 0)
