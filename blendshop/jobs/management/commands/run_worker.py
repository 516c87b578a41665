"""The worker of a production site: sends mails, does long work, keeps the daily jobs."""

import signal
from argparse import ArgumentParser
from types import FrameType
from typing import Any

from django.core.management.base import BaseCommand

from blendshop.jobs.worker import QueueWorker


class Command(BaseCommand):
    help = (
        "Work on the queue until SIGTERM or SIGINT; what was begun is finished first. "
        "Any number may run, on any hosts."
    )

    def add_arguments(self, parser: ArgumentParser) -> None:
        parser.add_argument(
            "--until-idle", action="store_true", help="end as soon as nothing is due"
        )
        parser.add_argument(
            "--interval",
            type=float,
            default=1.0,
            metavar="SECONDS",
            help="pause before an empty queue is looked at again (default: %(default)s)",
        )

    def handle(self, *, until_idle: bool, interval: float, **options: Any) -> None:
        worker = QueueWorker(interval_s=interval)

        def end(signum: int, frame: FrameType | None) -> None:
            worker.stop()
            signal.signal(signum, signal.SIG_DFL)  # asked a second time, it ends at once

        before = {which: signal.signal(which, end) for which in (signal.SIGTERM, signal.SIGINT)}
        try:
            worker.run(until_idle=until_idle)
        finally:
            for which, handler in before.items():
                signal.signal(which, handler)
