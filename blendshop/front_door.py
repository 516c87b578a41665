"""What no view should have to think of: bodies that are too large, and characters no text has.

A body is refused by its length before any of it is read, so that nothing of it reaches memory or
the disk. What an address takes is the view's to say (``uploads.takes_files``); who is not signed
in sends no more than a form.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Sequence
from typing import Any, Final

from django.core.exceptions import BadRequest
from django.http import HttpRequest, HttpResponse, HttpResponseBase, JsonResponse
from django.shortcuts import render
from django.utils.translation import gettext as _

from blendshop.api.errors import error_body
from blendshop.errors import DomainError

#: Bytes of a body: of whoever is not signed in, and of a view that takes no files.
MOST_ANONYMOUS: Final = 64_000
MOST_USUAL: Final = 512_000
#: Where a view says how much it takes instead.
MARK: Final = "most_body_bytes"
_API: Final = "/api/"
_NUL: Final = "\x00"


class BodyTooLarge(DomainError):
    code = "too_large"
    status = 413


class LengthRequired(DomainError):
    code = "length_required"
    status = 411


class FrontDoor:
    """Middleware, before whatever reads a body (the CSRF check does)."""

    def __init__(self, get_response: Callable[[HttpRequest], HttpResponse]) -> None:
        self.get_response = get_response

    def __call__(self, request: HttpRequest) -> HttpResponse:
        if _NUL in request.path_info or "%00" in request.META.get("QUERY_STRING", ""):
            raise BadRequest("The address holds a character that no text has.")
        return self.get_response(request)

    def process_view(
        self, request: HttpRequest, view: Callable[..., Any], args: object, kwargs: object
    ) -> HttpResponseBase | None:
        refusal = _refusal(request, getattr(view, MARK, MOST_USUAL))
        if refusal is None:
            # The API reads its own bodies, and may not find one read already.
            if request.method == "POST" and not request.path_info.startswith(_API):
                _refuse_nul(request.POST.lists())
            return None
        if request.path_info.startswith(_API):
            return JsonResponse(error_body(refusal.code, refusal.message), status=refusal.status)
        return render(request, "refused.html", {"error": refusal}, status=refusal.status)


def _refusal(request: HttpRequest, most: int) -> DomainError | None:
    """Why the body is not read; None where it may be."""
    if "HTTP_TRANSFER_ENCODING" in request.META:
        return LengthRequired(_("A body needs its length (Content-Length), not parts."))
    length = _length(request)
    if length > MOST_ANONYMOUS and not _is_known(request):
        most = MOST_ANONYMOUS
    if length <= most:
        return None
    return BodyTooLarge(
        _("This is larger than the {size} kB that may be sent here.").format(size=most // 1000)
    )


def _length(request: HttpRequest) -> int:
    text = request.META.get("CONTENT_LENGTH") or "0"
    if not (text.isascii() and text.isdecimal() and len(text) < 19):
        raise BadRequest("The length of the body is not a number.")
    return int(text)


def _is_known(request: HttpRequest) -> bool:
    """Signed in, or with a token that the API is about to check."""
    return "HTTP_AUTHORIZATION" in request.META or request.user.is_authenticated


def _refuse_nul(fields: Iterable[tuple[str, Sequence[object]]]) -> None:
    for name, values in fields:
        if _NUL in name or any(_NUL in value for value in values if isinstance(value, str)):
            raise BadRequest("A field holds a character that no text has.")
