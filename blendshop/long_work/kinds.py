"""Kinds of long work: what a part does, how the parts become one answer, who may ask and see.

    PLAN = register(Kind(name="stock-plan", title=_("Stock plan"), roles=STAFF, part=…, combine=…))

A room registers its kinds where it is imported in its app's ``ready``: pages and workers have to
know them alike.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any, Final, Protocol

from django.utils.translation import gettext as _

from blendshop.errors import NotAllowed
from blendshop.roles import Role

if TYPE_CHECKING:
    from django.db.models.fields.files import FieldFile
    from django_stubs_ext import StrOrPromise

    from blendshop.accounts.models import User


@dataclass(frozen=True)
class Assignment:
    """What was asked. ``parts`` are counted from 1; ``asked_by`` is None for the plant itself."""

    arguments: Mapping[str, Any]
    parts: int
    asked_by: User | None
    upload: FieldFile | None = None

    def asker(self) -> User:
        """Who asked; NotAllowed once that person is not there any more."""
        if self.asked_by is None:
            raise NotAllowed(_("Whoever asked for this is not among the people any more."))
        return self.asked_by

    def brought(self) -> bytes:
        """The file the asker brought; nothing where none was."""
        if not self.upload:
            return b""
        with self.upload.open("rb") as file:
            content: bytes = file.read()
        return content


@dataclass(frozen=True)
class Download:
    """A file that was made, under the name it is saved as; its suffix says what it is."""

    name: str
    content: bytes


@dataclass(frozen=True)
class Outcome:
    """What came out: a line for people, plain JSON for the page it leads to, a file."""

    says: str = ""
    result: Mapping[str, Any] | None = None
    download: Download | None = None


class Found(Protocol):
    """Work that is done, as far as an address is made of it: its key and its result."""

    pk: int
    result: Any


@dataclass(frozen=True)
class Kind:
    """One kind of long work.

    ``part(assignment, number)`` gives plain JSON and may be begun twice (a worker died), at worst
    by two at once: it writes in transactions of its own, the same however often. Of its answers one
    counts. ``combine(assignment, answers)`` gets them in order once all are there; it too may be
    begun anew after a death, and its outcome is kept once. A DomainError fails the work with its
    sentence.

    With ``in_one_transaction`` a part is done and counted in one transaction, under a lock: what it
    writes is written once, and not at all where the work was called off meanwhile.

    Who has one of ``roles`` may begin it and see the own; if ``is_shared``, those of others too.
    ``leads_to`` gives the address of the result; without, the work's own page shows what it says
    and its download. ``begun_at`` is the route one comes from.
    """

    name: str
    title: StrOrPromise
    roles: frozenset[Role]
    part: Callable[[Assignment, int], Any]
    combine: Callable[[Assignment, Sequence[Any]], Outcome]
    is_shared: bool = False
    in_one_transaction: bool = False
    leads_to: Callable[[Found], str] | None = None
    begun_at: str = "home"


_KINDS: Final[dict[str, Kind]] = {}


def register(kind: Kind) -> Kind:
    """Make the kind known under its name; the kind again."""
    _KINDS[kind.name] = kind
    return kind


def kind_of(name: str) -> Kind:
    """The kind registered under ``name``; LookupError without one."""
    return _KINDS[name]


def kinds_for(roles: frozenset[Role]) -> Iterator[Kind]:
    """The kinds that somebody with these roles may begin and see."""
    return (kind for kind in _KINDS.values() if not roles.isdisjoint(kind.roles))
