"""The change log: all sources as one list, newest first, a page at a time."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime
from typing import Final

from django.utils import timezone

from blendshop.accounts.models import User
from blendshop.roles import Role, has_role
from blendshop.searched_rows import is_key
from orders.changes.entries import entry_sources
from orders.changes.histories import history_sources
from orders.changes.label_lines import label_sources
from orders.changes.lines import Kind, Line
from orders.changes.moves import move_sources
from orders.changes.people_lines import people_source
from orders.changes.source import Place, Source, Wanted

LINES_A_PAGE: Final = 50
_SEPARATOR: Final = "~"


@dataclass(frozen=True, slots=True)
class LogPage:
    """Lines of one page; ``older`` is what the address of the next carries, empty at the end."""

    lines: tuple[Line, ...]
    older: str


def sources() -> list[Source]:
    """Every source; the order of those at the same instant."""
    return [
        *entry_sources(),
        *history_sources(),
        *label_sources(),
        *move_sources(),
        people_source(),
    ]


def kinds_for(user: User) -> list[Kind]:
    """The kinds somebody may read: people's roles are the office's, as its security log."""
    is_office = has_role(user, Role.OFFICE)
    return [kind for kind in Kind if kind != Kind.PEOPLE or is_office]


def read_log(user: User, wanted: Wanted, after: str = "", most: int = LINES_A_PAGE) -> LogPage:
    """The lines the user may read and wants, behind the place ``after`` names."""
    asked = dict(enumerate(sources()))
    may = [wanted.kind] if wanted.kind else kinds_for(user)
    seen = {
        rank: each for rank, each in asked.items() if each.kind in set(may) & {*kinds_for(user)}
    }
    behind = _place(after)
    places = [
        place
        for rank, source in seen.items()
        for place in source.places(wanted, rank, behind, most + 1)
    ]
    places.sort(key=lambda place: place.order)
    shown = places[:most]
    older = _word(shown[-1]) if len(places) > most else ""
    return LogPage(_lines(seen, shown, user), older)


def find_line(user: User, source_key: str, pk: int) -> Line | None:
    """One line, if there is such a one and the user may read it."""
    may = kinds_for(user)
    for source in sources():
        if source.key == source_key and source.kind in may:
            return next(iter(source.read([pk], user)), None)
    return None


def _lines(seen: Mapping[int, Source], shown: Sequence[Place], user: User) -> tuple[Line, ...]:
    keys: dict[int, list[int]] = defaultdict(list)
    for place in shown:
        keys[place.rank].append(place.pk)
    found = {
        (rank, line.pk): line for rank, pks in keys.items() for line in seen[rank].read(pks, user)
    }
    return tuple(found[place.rank, place.pk] for place in shown if (place.rank, place.pk) in found)


def _word(place: Place) -> str:
    at = place.at.astimezone(timezone.get_default_timezone()).isoformat()
    return _SEPARATOR.join((at, str(place.rank), str(place.pk)))


def _place(word: str) -> Place | None:
    """What a page's address carries; anything else begins at the newest line."""
    parts = word.split(_SEPARATOR)
    if len(parts) != 3 or not all(map(is_key, parts[1:])):
        return None
    try:
        at = datetime.fromisoformat(parts[0])
    except ValueError:
        return None
    return Place(at, int(parts[1]), int(parts[2])) if timezone.is_aware(at) else None
