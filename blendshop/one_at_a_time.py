"""One computation of a person at a time, over all processes that share the cache.

A process that dies in the middle frees it by its end: no entry outlives a request. Of one process
some threads stay free whatever is asked, so that health checks and other pages are answered.
"""

from __future__ import annotations

import secrets
import threading
import time
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from functools import wraps
from typing import Any, Final

from django.conf import settings
from django.core.cache import cache
from django.http import HttpRequest, HttpResponse
from django.utils.translation import gettext as _

from blendshop.errors import DomainError

#: How often one that waits looks whether its turn has come.
_LOOK_SECONDS: Final = 0.1
#: Beyond the deadline of a request, for what it does besides.
_SPARE_SECONDS: Final = 5


#: Threads of this process that compute or wait for their turn.
_THREADS: Final = threading.BoundedSemaphore(settings.COMPUTATIONS_AT_ONCE)


class StillComputing(DomainError):
    """Another computation of the same person is not at its end."""

    code = "still_computing"
    status = 429
    retry_after_seconds = 2


@contextmanager
def one_computation(person: int, *, wait_seconds: float = 0.0) -> Iterator[None]:
    """Holds the one place of ``person`` (a primary key); raises StillComputing without one."""
    if not _THREADS.acquire(blocking=False):
        raise StillComputing(_("Very much is being worked out just now. Try again in a moment."))
    try:
        with _own_place(person, wait_seconds):
            yield
    finally:
        _THREADS.release()


@contextmanager
def _own_place(person: int, wait_seconds: float) -> Iterator[None]:
    place, mine = f"computing:{person}", secrets.token_hex(8)
    last = time.monotonic() + wait_seconds
    while not cache.add(place, mine, timeout=settings.REQUEST_SECONDS + _SPARE_SECONDS):
        if time.monotonic() >= last:
            raise StillComputing(
                _("Your last question is still being worked out. Try again in a moment.")
            )
        time.sleep(_LOOK_SECONDS)
    try:
        yield
    finally:
        # One that outlived its entry must not free the place of the next.
        if cache.get(place) == mine:
            cache.delete(place)


def one_at_a_time(view: Callable[..., HttpResponse]) -> Callable[..., HttpResponse]:
    """View decorator: what was asked waits for the person's last question, as long as one may take.

    The parts of a page are asked for at the same time and come one after the other.
    """

    @wraps(view)
    def held(request: HttpRequest, *args: Any, **kwargs: Any) -> HttpResponse:
        if not (request.GET or request.POST) or request.user.pk is None:
            return view(request, *args, **kwargs)
        with one_computation(request.user.pk, wait_seconds=settings.REQUEST_SECONDS):
            return view(request, *args, **kwargs)

    return held
