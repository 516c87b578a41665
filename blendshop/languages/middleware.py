"""Every page in its reader's choice: a signed-in person's own, a stranger's as the browser asks."""

from __future__ import annotations

from collections.abc import Callable
from functools import wraps
from typing import Any, Final, cast

from django.conf import settings
from django.http import HttpRequest, HttpResponse
from django.utils.cache import patch_vary_headers
from django.utils.translation import get_language, get_language_from_request

from blendshop.figures.readers import reader
from blendshop.languages.choice import (
    Choice,
    Chooses,
    LanguageCode,
    UnitsName,
    begin_writing_in,
    choice_for,
    choice_of,
    house_choice,
    written_in,
)
from blendshop.languages.offered import Language
from blendshop.languages.rooms import OF_THE_PLANT, ROOMS

GetResponse = Callable[[HttpRequest], HttpResponse]
View = Callable[..., HttpResponse]

#: In the address of a public page: ``?lang=es``.
ASKED: Final = "lang"
_A_YEAR_S: Final = 365 * 24 * 3600
#: The language of rooms that have no other.
_ONLY: Final = "en"
_OURS: Final = frozenset({"blendshop", "formulas", "orders"})
#: Views without a page of their own: they lead on, or answer machines.
_LEAD_ON: Final = ("blendshop/views", "blendshop/monitoring", "orders/first_steps")


class LanguageMiddleware:
    """Writes pages in the reader's choice. The API stays in the house's words.

    A page of a room that has no other language is in English as a whole, its frame too, and says
    so to who reads another: nothing is half translated.

    A stranger's choice is the address's ``?lang=``, which a cookie then keeps, else the cookie's,
    else what the browser prefers of the languages there are.
    """

    def __init__(self, get_response: GetResponse) -> None:
        self.get_response = get_response

    def __call__(self, request: HttpRequest) -> HttpResponse:
        if request.path.startswith("/api/"):
            return self.get_response(request)
        if request.user.is_authenticated:
            with written_in(choice_of(request.user)):
                return self.get_response(request)
        choice = stranger_choice(request)
        with written_in(choice):
            response = self.get_response(request)
        patch_vary_headers(response, ("Accept-Language", "Cookie"))
        # A paper's ``?lang=en`` asks for one print and says nothing of the pages.
        is_page = response.get("Content-Type", "").startswith("text/html")
        if is_page and (asked := _asked(request)):
            response.set_cookie(
                settings.LANGUAGE_COOKIE_NAME,
                asked,
                max_age=_A_YEAR_S,
                secure=settings.LANGUAGE_COOKIE_SECURE,
                httponly=True,
                samesite="Lax",
            )
        return response

    def process_view(
        self, request: HttpRequest, view: View, _args: tuple[Any, ...], _kwargs: dict[str, Any]
    ) -> None:
        """Ends with the request, as what ``__call__`` has chosen does."""
        language = (get_language() or "").partition("-")[0]
        if request.path.startswith("/api/") or language == _ONLY or has_other_languages(view):
            return
        request.reads_otherwise = language  # type: ignore[attr-defined]
        begin_writing_in(Choice(_ONLY, cast("UnitsName", reader().units.name)))


def has_other_languages(view: View) -> bool:
    """Whether the view's room is one of those in every language; what is not ours has its own."""
    path = view.__module__.replace(".", "/")
    if path.partition("/")[0] not in _OURS:
        return True
    rooms = (room.removesuffix(".py") for room in (*ROOMS, *_LEAD_ON))
    in_room = any(path == room or path.startswith(f"{room}/") for room in rooms)
    return in_room and f"{path}.py" not in OF_THE_PLANT


def written_for(company_of: Callable[..., Chooses]) -> Callable[[View], View]:
    """For the view of a page that is for one company: a stranger reads it in the company's choice.

    ``company_of`` takes the arguments of the address.
    """

    def decorate(view: View) -> View:
        @wraps(view)
        def written(request: HttpRequest, *args: Any, **kwargs: Any) -> HttpResponse:
            if request.user.is_authenticated:
                return view(request, *args, **kwargs)
            with written_in(stranger_choice(request, company_of(*args, **kwargs))):
                return view(request, *args, **kwargs)

        return written

    return decorate


def stranger_choice(request: HttpRequest, company: Chooses | None = None) -> Choice:
    """The choice on a public page: asked for by the visitor, else that of the company the page is
    for, else of the browser. Units are the company's, or the house's."""
    units = choice_for(company).units
    asked = _asked(request) or _known(request.COOKIES.get(settings.LANGUAGE_COOKIE_NAME))
    of_company = _known(company.language) if company is not None else None
    return Choice(asked or of_company or _of_browser(request), units)


def _asked(request: HttpRequest) -> LanguageCode | None:
    return _known(request.GET.get(ASKED))


def _of_browser(request: HttpRequest) -> LanguageCode:
    """What the browser prefers, of the languages there are; the house's where it says nothing."""
    code = get_language_from_request(request).partition("-")[0]
    return _known(code) or house_choice().language


def _known(code: str | None) -> LanguageCode | None:
    return cast("LanguageCode", code) if code in Language.values else None
