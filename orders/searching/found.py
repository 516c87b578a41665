"""What a search found: hits with a line that says what each is, grouped by kind."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from enum import IntEnum
from itertools import chain
from typing import Any, Final

from django.db.models import QuerySet

#: So many of a kind are shown; the list of the kind has all.
MOST: Final = 8


class Fit(IntEnum):
    """How well a hit fits, the best first."""

    EXACT = 0
    RUNNING_NUMBER = 1
    BEGINS = 2
    NAMED = 3


@dataclass(frozen=True, slots=True)
class Hit:
    """``name`` leads to ``url``; ``line`` says what it is."""

    name: str
    line: str
    url: str


@dataclass(frozen=True, slots=True)
class Group:
    """The hits of one kind; ``all_url`` is the list that has more of them, empty where none is."""

    key: str
    title: str
    hits: tuple[Hit, ...]
    best: Fit
    all_url: str = ""


@dataclass(frozen=True, slots=True)
class Fitting:
    """Keys of rows that fit, the best first; ``is_part`` where there are more of them."""

    keys: tuple[int, ...]
    best: Fit
    is_part: bool

    def rows(self, read: QuerySet[Any]) -> list[Any]:
        """The rows of ``read``, in the order of the keys."""
        found = read.in_bulk(self.keys)
        return [found[key] for key in self.keys if key in found]


#: A bare queryset in the order its hits stand in, and how well they fit.
Way = tuple[Fit, QuerySet[Any]]


def fitting(*ways: Way) -> Fitting | None:
    """The first rows along the ways, best fit first; each way is asked only while there is room.

    A way is read no further than is shown.
    """
    keys: dict[int, Fit] = {}
    for fit, rows in ways:
        if len(keys) > MOST:
            break
        for key in rows.values_list("pk", flat=True)[: MOST + 1]:
            keys.setdefault(key, fit)
    if not keys:
        return None
    shown = tuple(keys)[:MOST]
    return Fitting(shown, best=keys[shown[0]], is_part=len(keys) > MOST)


def in_order(groups: Iterable[Iterable[Group]]) -> list[Group]:
    """Kinds with the better fit first, otherwise in their usual order."""
    return sorted(chain.from_iterable(groups), key=lambda group: group.best)
