"""What became of the mails of a record, for the page it is shown on."""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import timedelta
from typing import Final

from django.utils import timezone

from blendshop.jobs.models import WorkerBeat
from blendshop.outbox.models import Mail

#: Longer than a worker takes to come round; then its absence is worth a word.
PATIENCE: Final = timedelta(minutes=2)


@dataclass(frozen=True)
class RecordMails:
    """The mails of one record, and whether they wait although nobody sends any."""

    mails: Sequence[Mail]
    no_worker: bool


def mails_about(kind: str, key: str) -> RecordMails:
    """The mails of the record ``kind``, ``key``, oldest first."""
    mails = list(Mail.objects.about(kind, key))
    overdue = timezone.now() - PATIENCE
    waits = any(mail.state == Mail.State.WAITING and mail.next_try_at < overdue for mail in mails)
    return RecordMails(mails, no_worker=waits and not WorkerBeat.objects.alive().exists())
