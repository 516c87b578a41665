"""In which language a crew reads: asked in the address, else as the phone keeps, else the sheet's.

Figures are in US units in both, as metric stands beside them on the sheet itself. The address's
choice is kept on the phone by the middleware of the languages.
"""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager
from typing import cast

from django.conf import settings
from django.http import HttpRequest

from blendshop.languages.choice import Choice, LanguageCode, written_in
from blendshop.languages.middleware import ASKED
from blendshop.languages.offered import Language
from orders.models import CrewSheet


def language_of(request: HttpRequest, sheet: CrewSheet) -> LanguageCode:
    """``en`` or ``es``."""
    asked = (request.GET.get(ASKED), request.COOKIES.get(settings.LANGUAGE_COOKIE_NAME))
    known = [code for code in asked if code in Language.values]
    return cast("LanguageCode", known[0] if known else sheet.language)


@contextmanager
def read_by_crew(language: LanguageCode) -> Iterator[None]:
    """Inside, words and figures are the crew's."""
    with written_in(Choice(language, "us")):
        yield
