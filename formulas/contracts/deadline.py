"""No request holds the site: what the engine refuses as too large, in words, and the last guard.

The engine counts its work and refuses by that alone (``formulas.engine.work.effort``). A clock is
only the last guard around a whole request, for a machine that is slow or busy.
"""

from __future__ import annotations

import time
from collections.abc import Callable, Iterator
from contextlib import contextmanager

from django.conf import settings
from django.http import HttpRequest, HttpResponse
from django.shortcuts import render
from django.utils.translation import gettext as _

from blendshop.errors import DomainError
from formulas.engine.work.effort import TooLarge, TooLate, refused_when


class TooLargeToDecide(DomainError):
    """The question takes more work than one may; asked smaller it is answered."""

    code = "too_large"
    status = 422


def refusal_of(error: TooLarge) -> TooLargeToDecide:
    """The engine's refusal with what to reduce."""
    if isinstance(error, TooLate):
        return TooLargeToDecide(
            _(
                "This was not answered within {seconds} seconds, so it was ended. Try again in a"
                " moment, or ask less at once: fewer stocks or compatibility rules, without a"
                " smallest charge or a largest number of stocks."
            ).format(seconds=settings.REQUEST_SECONDS)
        )
    return TooLargeToDecide(
        _(
            "This takes more work than one question may. Offer fewer stocks or compatibility"
            " rules, or ask without a smallest charge or a largest number of stocks."
        )
    )


@contextmanager
def decided() -> Iterator[None]:
    """What the engine refuses inside is raised as ``TooLargeToDecide``."""
    try:
        yield
    except TooLarge as error:
        raise refusal_of(error) from error


class RequestDeadline:
    """Middleware: what the engine is asked in one request ends within ``REQUEST_SECONDS``."""

    def __init__(self, get_response: Callable[[HttpRequest], HttpResponse]) -> None:
        self.get_response = get_response

    def __call__(self, request: HttpRequest) -> HttpResponse:
        end = time.monotonic() + settings.REQUEST_SECONDS
        with refused_when(lambda: time.monotonic() > end):
            return self.get_response(request)

    def process_exception(self, request: HttpRequest, error: Exception) -> HttpResponse | None:
        if not isinstance(error, TooLarge):
            return None
        refusal = refusal_of(error)
        return render(request, "refused.html", {"error": refusal}, status=refusal.status)
