"""Errors by mail, sent by a thread of their own.

A request never waits for a mail server, and nothing is written in a transaction that may be broken:
so not by the outbox, which is a table. What does not fit is dropped; the log has it.
"""

import logging
from collections.abc import Sequence
from queue import Full, Queue
from threading import Thread
from time import monotonic
from typing import Final

from django.conf import settings
from django.core.mail import EmailMessage, get_connection

from blendshop.monitoring.request_number import request_number

_log = logging.getLogger(__name__)
_MOST_WAITING: Final = 20
_AGAIN_AFTER_S: Final = 300.0
_MAIL_SERVER_TIMEOUT_S: Final = 10


class ErrorMailHandler(logging.Handler):
    """Mails errors to ``to``, the same place in the code at most once in five minutes."""

    def __init__(self, to: Sequence[str]) -> None:
        super().__init__(logging.ERROR)
        self._to = list(to)
        self._waiting: Queue[tuple[str, str]] = Queue(_MOST_WAITING)
        self._sent_at: dict[str, float] = {}
        self._thread: Thread | None = None

    def emit(self, record: logging.LogRecord) -> None:
        """Called under the handler's lock."""
        place, now = _place(record), monotonic()
        if now - self._sent_at.get(place, -_AGAIN_AFTER_S) < _AGAIN_AFTER_S:
            return
        subject = f"[Blendshop] {record.getMessage()} {request_number()}"
        try:
            self._waiting.put_nowait((" ".join(subject.split())[:200], self.format(record)))
        except Full:
            return
        self._sent_at[place] = now
        # Not before it is needed: a server's processes are forked after the log is set up.
        if self._thread is None or not self._thread.is_alive():
            self._thread = Thread(target=self._send, name="error-mail", daemon=True)
            self._thread.start()

    def _send(self) -> None:
        while True:
            subject, text = self._waiting.get()
            try:
                connection = get_connection(timeout=_MAIL_SERVER_TIMEOUT_S)
                EmailMessage(
                    subject, text, settings.DEFAULT_FROM_EMAIL, self._to, connection=connection
                ).send()
            except Exception:  # noqa: BLE001 - whatever it is, the thread goes on
                _log.warning("An error could not be mailed", exc_info=True)
            finally:
                self._waiting.task_done()


def _place(record: logging.LogRecord) -> str:
    """Where it happened: the innermost line of the traceback, or of the call of the log."""
    traceback = record.exc_info[2] if record.exc_info else None
    if traceback is None:
        return f"{record.pathname}:{record.lineno}"
    while traceback.tb_next is not None:
        traceback = traceback.tb_next
    return f"{traceback.tb_frame.f_code.co_filename}:{traceback.tb_lineno}"
