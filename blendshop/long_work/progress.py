"""How far a piece of work is, as its page shows it and asks again."""

from dataclasses import dataclass
from datetime import timedelta
from typing import Final

from django.utils import timezone

from blendshop.jobs.models import WorkerBeat
from blendshop.long_work.models import LongWork

#: The page asks again after so many milliseconds while the work is younger than so many seconds.
_ASKED_AGAIN: Final = ((3, 500), (30, 1_000), (120, 2_000), (1_800, 5_000))
#: Longer than a worker takes to come round; then its absence is worth a word.
_PATIENCE: Final = timedelta(seconds=15)


@dataclass(frozen=True, slots=True)
class Progress:
    """``ask_again_ms`` is 0 once nobody can still be looking; ``seen`` changes with the words."""

    work: LongWork
    ask_again_ms: int
    no_worker: bool

    @property
    def seen(self) -> str:
        return f"{self.work.state}-{self.work.parts_done}-{self.no_worker:d}"


def progress_of(work: LongWork) -> Progress:
    """The progress of open work now."""
    age = timezone.now() - work.asked_at
    seconds = age.total_seconds()
    again = next((ms for younger, ms in _ASKED_AGAIN if seconds < younger), 0)
    waits = work.state == LongWork.State.WAITING and age > _PATIENCE
    return Progress(work, again, no_worker=waits and not WorkerBeat.objects.alive().exists())
