"""Errors by mail, posted in the outbox by a thread of their own.

What goes wrong may have broken the transaction it happened in, and a storm of errors must not
become one of mails. So the log's handler only remembers; a thread with a connection of its own
writes the mail, each place in the code at most once in fifteen minutes over all processes, with how
often it happened meanwhile. Where the database is away too, the log has it.
"""

import hashlib
import logging
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import timedelta
from queue import Full, Queue
from threading import Thread, current_thread
from time import monotonic
from typing import Final

from blendshop.monitoring.request_number import request_number

_log = logging.getLogger(__name__)

#: The same place in the code is mailed at most once in so many seconds.
AGAIN_AFTER_S: Final = 900
#: Over all places and processes; the log has the rest.
MOST_AN_HOUR: Final = 30
_MOST_WAITING: Final = 20
_MOST_PLACES: Final = 500
_COUNTED_FOR_S: Final = 7 * 24 * 3600
_THREAD: Final = "error-mail"
#: Django's log of what visitors try (a wrong host name, a cookie made up); no fault of the site.
_OF_VISITORS: Final = "django.security."
#: The kind of record these mails are about; its key is the place in the code.
ABOUT: Final = "error"


@dataclass(slots=True)
class SeenError:
    """An error to be told, and how often its place was passed in this process unsaid."""

    place: str
    subject: str
    text: str
    unsaid: int = 0


@dataclass(slots=True)
class _Place:
    told_at: float
    unsaid: int = 0


class ErrorMailHandler(logging.Handler):
    """Posts errors to ``to``; never waits, never raises, never logs an error itself."""

    def __init__(self, to: Sequence[str]) -> None:
        super().__init__(logging.ERROR)
        self._to = list(to)
        self._waiting: Queue[SeenError] = Queue(_MOST_WAITING)
        self._places: dict[str, _Place] = {}
        self._thread: Thread | None = None

    def emit(self, record: logging.LogRecord) -> None:
        """Called under the handler's lock."""
        # Of writing such a mail: that would go round for ever.
        if current_thread().name == _THREAD or record.name.startswith(_OF_VISITORS):
            return
        try:
            self._remember(record)
        except Exception:  # noqa: BLE001 - as the standard handlers: the log stops nobody
            self.handleError(record)

    def _remember(self, record: logging.LogRecord) -> None:
        name, now = _place(record), monotonic()
        known = self._places.get(name)
        if known is not None and now - known.told_at < AGAIN_AFTER_S:
            known.unsaid += 1
            return
        subject = " ".join(f"[Blendshop] {record.getMessage()} {request_number()}".split())
        error = SeenError(name, subject, self.format(record), known.unsaid if known else 0)
        try:
            self._waiting.put_nowait(error)
        except Full:
            return
        if len(self._places) >= _MOST_PLACES:
            self._places.clear()
        self._places[name] = _Place(now)
        # Not before it is needed: a server's processes are forked after the log is set up.
        if self._thread is None or not self._thread.is_alive():
            self._thread = Thread(target=self._post, name=_THREAD, daemon=True)
            self._thread.start()

    def _post(self) -> None:
        from django.db import connection

        while True:
            error = self._waiting.get()
            try:
                post_error(error, self._to)
            except Exception:  # noqa: BLE001 - whatever it is, the thread goes on
                _log.warning("An error could not be mailed: %s", error.subject, exc_info=True)
            finally:
                connection.close()  # this thread may have nothing to do for days
                self._waiting.task_done()


def post_error(error: SeenError, to: Sequence[str]) -> bool:
    """Write the mails, or count the error where its place was told a while ago; whether written.

    Raises what database and shared cache raise when they are away.
    """
    # The handler is made with the log, before there are any models.
    from django.core.cache import cache
    from django.db import transaction
    from django.utils import timezone

    from blendshop.outbox.actions import post_mail
    from blendshop.outbox.models import Mail

    place = hashlib.sha256(error.place.encode()).hexdigest()[:32]
    unsaid = f"error-unsaid:{place}"
    count = error.unsaid + int(cache.get(unsaid, 0))
    last_hour = timezone.now() - timedelta(hours=1)
    mailed = Mail.objects.filter(about_kind=ABOUT, created_at__gt=last_hour).count()
    if mailed >= MOST_AN_HOUR * len(to) or not cache.add(f"error-told:{place}", "", AGAIN_AFTER_S):
        cache.set(unsaid, count + 1, _COUNTED_FOR_S)
        return False
    with transaction.atomic():
        # Its text goes once it is sent: it may tell what the log alone should keep.
        post_mail(
            to=to,
            subject=error.subject,
            text=f"{error.text}\n\n{_said(count)}",
            about=(ABOUT, place),
            has_secret=True,
        )
    cache.delete(unsaid)
    return True


def _said(count: int) -> str:
    minutes = AGAIN_AFTER_S // 60
    again = f"It happened {count} times more since it was last mailed.\n" if count else ""
    return (
        f"{again}The same place is mailed once in {minutes} minutes at most,"
        f" and no more than {MOST_AN_HOUR} errors an hour; the log has each."
    )


def _place(record: logging.LogRecord) -> str:
    """Where it happened: the innermost line of the traceback, or of the call of the log."""
    traceback = record.exc_info[2] if record.exc_info else None
    if traceback is None:
        return f"{record.pathname}:{record.lineno}"
    while traceback.tb_next is not None:
        traceback = traceback.tb_next
    return f"{traceback.tb_frame.f_code.co_filename}:{traceback.tb_lineno}"
