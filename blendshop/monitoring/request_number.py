"""Each request has a number: in its answer, on error pages, and in every line of the log."""

import re
import uuid
from collections.abc import Iterator
from contextlib import contextmanager
from contextvars import ContextVar
from typing import Final

from django.conf import settings
from django.http import HttpRequest
from django.utils.functional import LazyObject

HEADER: Final = "X-Request-ID"
#: Of a proxy's number: nothing that could break a line, a header or a search.
_SAFE: Final = re.compile(r"[A-Za-z0-9][A-Za-z0-9_-]{7,63}", re.ASCII)
_CURRENT: ContextVar[HttpRequest | None] = ContextVar("current_request", default=None)
_NUMBER: ContextVar[str] = ContextVar("request_number", default="")


def request_number() -> str:
    """The number of the request this thread answers; empty outside of one."""
    return _NUMBER.get()


@contextmanager
def numbered(request: HttpRequest) -> Iterator[str]:
    """Inside, ``request`` is the one that is answered."""
    number = _given_by_proxy(request) or uuid.uuid4().hex
    current, numbering = _CURRENT.set(request), _NUMBER.set(number)
    try:
        yield number
    finally:
        _CURRENT.reset(current)
        _NUMBER.reset(numbering)


def _given_by_proxy(request: HttpRequest) -> str:
    if not settings.PROXY_NUMBERS_REQUESTS:
        return ""
    given = request.headers.get(HEADER, "")
    return given if _SAFE.fullmatch(given) else ""


def known_person() -> int | None:
    """Key of who is signed in, if that was asked already: a line of the log costs no query."""
    request = _CURRENT.get()
    if request is None:
        return None
    held = vars(request)
    # The sign-in by session leaves a lazy user and what it found beside it; that by token a user.
    user = held.get("user")
    if isinstance(user, LazyObject) or user is None:
        user = held.get("_cached_user")
    return None if user is None else user.pk
