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
#: In a request's META: Django says what became of it when the context is gone.
_KEY: Final = "blendshop.request_number"


def request_number(request: HttpRequest | None = None) -> str:
    """The number of ``request``, or of the one this thread answers; empty outside of one."""
    asked = request or _CURRENT.get()
    number: str = "" if asked is None else asked.META.get(_KEY, "")
    return number


@contextmanager
def numbered(request: HttpRequest) -> Iterator[str]:
    """Inside, ``request`` is the one that is answered."""
    number = request.META[_KEY] = _given_by_proxy(request) or uuid.uuid4().hex
    current = _CURRENT.set(request)
    try:
        yield number
    finally:
        _CURRENT.reset(current)


def _given_by_proxy(request: HttpRequest) -> str:
    if not settings.PROXY_NUMBERS_REQUESTS:
        return ""
    given = request.headers.get(HEADER, "")
    return given if _SAFE.fullmatch(given) else ""


def known_person(request: HttpRequest | None = None) -> int | None:
    """Key of who is signed in, if that was asked already: a line of the log costs no query."""
    asked = request or _CURRENT.get()
    if asked is None:
        return None
    held = vars(asked)
    # The sign-in by session leaves a lazy user and what it found beside it; that by token a user.
    user = held.get("user")
    if isinstance(user, LazyObject) or user is None:
        user = held.get("_cached_user")
    return None if user is None else user.pk
