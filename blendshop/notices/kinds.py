"""Kinds of notices: what they are called, whose work they are, how each is usually told.

A room registers the kinds it causes where its module ``notices`` is imported, which the app's
``ready`` does: pages and workers have to know them alike.
"""

from __future__ import annotations

from collections.abc import Collection, Mapping
from dataclasses import dataclass, field
from typing import TYPE_CHECKING, Final

from blendshop.notices.models import How
from blendshop.roles import Role

if TYPE_CHECKING:
    from django_stubs_ext import StrOrPromise

#: So many names stand in a sentence about several.
MOST_NAMED: Final = 6


@dataclass(frozen=True)
class Kind:
    """``usual`` says how a role is told where the person has not chosen; else on the page.

    With ``many``, a sentence with ``{count}`` and ``{names}``, unread notices of the kind become
    one, which leads to ``many_link``, the route of a list.
    """

    name: str
    title: StrOrPromise
    roles: frozenset[Role]
    usual: Mapping[Role, How] = field(default_factory=dict)
    many: StrOrPromise = ""
    many_link: str = ""

    def usually(self, roles: Collection[Role]) -> How:
        """How somebody with these roles is told: the loudest of what is usual for one of them."""
        loudness = list(How)
        usual = [self.usual.get(role, How.PAGE) for role in roles if role in self.roles]
        return max(usual, key=loudness.index, default=How.PAGE)

    def of_many(self, names: Collection[str]) -> str:
        """The sentence about all of ``names``."""
        shown = ", ".join(list(names)[:MOST_NAMED])
        more = ", …" if len(names) > MOST_NAMED else ""
        return str(self.many).format(count=len(names), names=shown + more)


_KINDS: Final[dict[str, Kind]] = {}


def register(kind: Kind) -> Kind:
    """Make the kind known under its name; the kind again."""
    _KINDS[kind.name] = kind
    return kind


def kinds_for(roles: frozenset[Role]) -> list[Kind]:
    """The kinds somebody with these roles may be told of, by title."""
    found = (kind for kind in _KINDS.values() if not roles.isdisjoint(kind.roles))
    return sorted(found, key=lambda kind: str(kind.title))


def title_of(name: str) -> str:
    """What the kind is called; its name once no room causes it any more."""
    kind = _KINDS.get(name)
    return str(kind.title) if kind else name
