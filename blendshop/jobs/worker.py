"""A worker: one task after the other, with what recurs, and a look after workers that died.

Any number of them may run, on any hosts. On PostgreSQL a row is claimed with SKIP LOCKED, on SQLite
one writer goes at a time.
"""

import logging
import os
import socket
import threading
import time
from collections.abc import Callable
from dataclasses import dataclass, field
from typing import Final, TypeVar

from django.db import DatabaseError, close_old_connections, connection
from django.utils import timezone
from django.utils.crypto import get_random_string
from django_tasks_db.management.commands.db_worker import Worker as OneTask
from django_tasks_db.models import DBTaskResult

from blendshop.jobs.actions import beat, claim_next, enqueue_recurring, requeue_orphans, sign_off

logger = logging.getLogger(__name__)

BEAT_S: Final = 10.0
#: Between two looks for orphans and for what recurs.
HOUSEKEEPING_S: Final = 15.0
#: Before a database that does not answer is asked again.
DATABASE_PAUSE_S: Final = 5.0

Answer = TypeVar("Answer")


def new_name() -> str:
    """Host, process and chance: no two workers share a name, 64 characters at most."""
    return f"{socket.gethostname()[:32]}-{os.getpid()}-{get_random_string(12)}"


def run_next(name: str) -> bool:
    """Claim and run one task that is due, as the worker ``name``; False if there was none."""
    # A reading first: a claim locks a whole SQLite database.
    if not DBTaskResult.objects.ready().exists() or (claimed := claim_next(name)) is None:
        return False
    OneTask(
        queue_names=["*"],
        interval=0,
        batch=True,
        backend_name=claimed.backend_name,
        startup_delay=False,
        max_tasks=1,
        worker_id=name,
        excluded_queue_names=[],
    ).run_task(claimed)
    return True


def keep_house() -> None:
    """Orphans back on the queue, what recurs onto it."""
    requeue_orphans()
    enqueue_recurring(timezone.now())


class _Beating(threading.Thread):
    """Beats while a task keeps the worker busy."""

    def __init__(self, name: str) -> None:
        super().__init__(name=f"beat of {name}", daemon=True)
        self._worker, self._ended = name, threading.Event()

    def run(self) -> None:
        while not self._ended.wait(BEAT_S):
            try:
                beat(self._worker)
            except DatabaseError:
                logger.warning("A beat was not written", exc_info=True)
            finally:
                connection.close()

    def end(self) -> None:
        self._ended.set()
        self.join()


@dataclass
class QueueWorker:
    """Runs in the thread that calls ``run`` until ``stop``; the task begun is finished first."""

    interval_s: float = 1.0
    name: str = field(default_factory=new_name)
    # A plain flag: it is set from signal handlers, where taking a lock could wait for itself.
    stopping: bool = False
    _house_at: float = field(default=float("-inf"), init=False)

    def stop(self) -> None:
        self.stopping = True

    def run(self, *, until_idle: bool = False) -> None:
        """Work until stopped, or with ``until_idle`` until nothing is due."""
        logger.info("Worker %s begins", self.name)
        self._keep_trying(lambda: beat(self.name))
        beating = _Beating(self.name)
        beating.start()
        try:
            while not self.stopping:
                worked = self._keep_trying(self._round)
                if worked or self.stopping:
                    continue
                if until_idle:
                    break
                time.sleep(self.interval_s)
        finally:
            beating.end()
            sign_off(self.name)
            connection.close()
            logger.info("Worker %s ends", self.name)

    def _round(self) -> bool:
        if time.monotonic() - self._house_at >= HOUSEKEEPING_S:
            self._house_at = time.monotonic()
            keep_house()
        return run_next(self.name)

    def _keep_trying(self, step: Callable[[], Answer]) -> Answer | None:
        """A database that restarts or is moved ends no worker."""
        while not self.stopping:
            close_old_connections()
            try:
                return step()
            except DatabaseError:
                logger.exception("The queue's database does not answer; trying again")
                connection.close()
                time.sleep(DATABASE_PAUSE_S)
        return None
