"""What became of the mails of a record, and which mails of all are in trouble."""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta
from typing import Final

from django.db.models import Q
from django.utils import timezone

from blendshop.jobs.models import WorkerBeat
from blendshop.outbox.models import Mail

#: Longer than a worker takes to come round; then its absence is worth a word.
PATIENCE: Final = timedelta(minutes=2)
#: More than these are one trouble, not many.
MOST_SHOWN: Final = 100


@dataclass(frozen=True)
class RecordMails:
    """Mails of one record, or of all; and whether they wait although nobody sends any."""

    mails: Sequence[Mail]
    no_worker: bool


def mails_about(kind: str, key: str) -> RecordMails:
    """The mails of the record ``kind``, ``key``, oldest first."""
    mails = list(Mail.objects.about(kind, key))
    return RecordMails(mails, no_worker=_waits_for_a_worker(mails))


def mails_in_trouble() -> RecordMails:
    """Mails of whatever record that were given up or are tried again, the newest first."""
    tried_again = Q(state=Mail.State.WAITING) & (Q(tries__gt=0) | Q(next_try_at__lt=_overdue()))
    given_up = Q(state=Mail.State.DEAD, set_aside_at=None)
    mails = list(Mail.objects.filter(given_up | tried_again).order_by("-pk")[:MOST_SHOWN])
    return RecordMails(mails, no_worker=_waits_for_a_worker(mails))


def count_not_delivered() -> int:
    """How many mails were given up that nobody has set aside."""
    return Mail.objects.not_delivered().count()


def _waits_for_a_worker(mails: Iterable[Mail]) -> bool:
    overdue = _overdue()
    waits = any(mail.state == Mail.State.WAITING and mail.next_try_at < overdue for mail in mails)
    return waits and not WorkerBeat.objects.alive().exists()


def _overdue() -> datetime:
    return timezone.now() - PATIENCE
