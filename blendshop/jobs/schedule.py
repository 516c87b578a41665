"""What recurs: tasks of ``settings.DAILY_TASKS`` and ``settings.REPEATED_TASKS``."""

from collections.abc import Iterator
from dataclasses import dataclass
from datetime import datetime, time, timedelta

from django.conf import settings
from django.utils import timezone


@dataclass(frozen=True)
class Recurring:
    """A task by its dotted path; ``every`` None is once a day of the plant's calendar."""

    path: str
    every: timedelta | None = None

    def is_due(self, last_at: datetime | None, now: datetime) -> bool:
        """Whether it is to be put on the queue at ``now``."""
        return last_at is None or last_at < self.due_if_before(now)

    def due_if_before(self, now: datetime) -> datetime:
        """The moment the last run must lie before."""
        if self.every is not None:
            return now - self.every
        today = timezone.localtime(now)
        return datetime.combine(today.date(), time.min, tzinfo=today.tzinfo)


def recurring() -> Iterator[Recurring]:
    """Everything that recurs."""
    for path in settings.DAILY_TASKS:
        yield Recurring(path)
    for path, seconds in settings.REPEATED_TASKS.items():
        yield Recurring(path, timedelta(seconds=seconds))
