"""What was typed into a form whose session has ended: in the cache until its person is back.

A form that is to be kept says whose it is (``typed_by``), signed, since nobody is signed in when it
arrives. The key of what is kept is a secret of the browser that sent it, and it is given back to
that person alone.
"""

from __future__ import annotations

import secrets
from dataclasses import dataclass
from typing import Final

from django.core.cache import cache
from django.core.signing import BadSignature, Signer
from django.http import HttpRequest

from blendshop.accounts.models import User

#: The field that says whose form it is.
FIELD: Final = "typed_by"
#: How long it is kept.
KEPT_MINUTES: Final = 30
_SALT: Final = "blendshop.accounts.typed"
_CACHED_AS: Final = "typed:{key}"
_TOKEN: Final = "csrfmiddlewaretoken"  # noqa: S105 - the name of a field


@dataclass(frozen=True, slots=True)
class Typed:
    """``person`` is the key of who typed it, ``path`` where it was sent, on this site."""

    person: int
    path: str
    fields: tuple[tuple[str, str], ...]


def word_of(user: User) -> str:
    """What a form says of who types into it."""
    return Signer(salt=_SALT).sign(str(user.pk))


def keep_typed(request: HttpRequest) -> str | None:
    """The key under which the form that was sent is kept; None where it does not say whose it is.

    Files are not kept, nor anything called a password.
    """
    if request.method != "POST":
        return None
    try:
        person = int(Signer(salt=_SALT).unsign(request.POST.get(FIELD, "")))
    except (BadSignature, ValueError):
        return None
    fields = tuple(
        (name, str(value))
        for name, values in request.POST.lists()
        if name != _TOKEN and "password" not in name
        for value in values
    )
    key = secrets.token_urlsafe(24)
    typed = (person, request.get_full_path(), fields)
    cache.set(_CACHED_AS.format(key=key), typed, KEPT_MINUTES * 60)
    return key


def kept_typed(key: str) -> Typed | None:
    """None when it was never kept, or no longer is."""
    found = cache.get(_CACHED_AS.format(key=key))
    return None if found is None else Typed(*found)
