"""In which language a crew reads: asked in the address, else as the phone chose, else the sheet's.

Figures are those of the United States in both; metric stands beside them on the sheet itself.
"""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager
from typing import Final

from django.conf import settings
from django.http import HttpRequest, HttpResponse
from django.utils.translation import override

from blendshop.figures.locales import EN_US, ES_US
from blendshop.figures.readers import read_in
from blendshop.figures.writing import Figures
from orders.models import CrewSheet

_COOKIE: Final = "crew_language"
_YEAR_SECONDS: Final = 365 * 24 * 3600


def language_of(request: HttpRequest, sheet: CrewSheet) -> str:
    """``en`` or ``es``."""
    for asked in (request.GET.get("lang"), request.COOKIES.get(_COOKIE)):
        if asked in CrewSheet.Language.values:
            return str(asked)
    return sheet.language


@contextmanager
def read_by_crew(language: str) -> Iterator[None]:
    """Inside, words and figures are the crew's."""
    locale = ES_US if language == CrewSheet.Language.SPANISH else EN_US
    with override(language), read_in(Figures(locale)):
        yield


def remember(response: HttpResponse, request: HttpRequest) -> HttpResponse:
    """Keep a language that was asked for on this phone."""
    asked = request.GET.get("lang")
    if asked in CrewSheet.Language.values:
        response.set_cookie(
            _COOKIE,
            str(asked),
            max_age=_YEAR_SECONDS,
            path="/crew/",
            secure=settings.SESSION_COOKIE_SECURE,
            httponly=True,
            samesite="Lax",
        )
    return response
