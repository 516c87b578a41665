"""Where lines of the log come from: tables of different make, each asked in slices by date.

A page asks every source for the keys of its newest lines, puts them in one order, and reads only
the lines it shows. So a page costs the same however long the log is.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass
from datetime import datetime
from typing import Any

from django.db.models import Q, QuerySet

from blendshop.accounts.models import User
from orders.changes.lines import Kind, Line


@dataclass(frozen=True, slots=True)
class Place:
    """A line's place in the log: newest first, at the same instant by source, then by key."""

    at: datetime
    rank: int
    pk: int

    @property
    def order(self) -> tuple[float, int, int]:
        return (-self.at.timestamp(), self.rank, -self.pk)


@dataclass(frozen=True, slots=True)
class Wanted:
    """What somebody asked of the log; everything is optional. ``until`` itself is left out."""

    kind: Kind | None = None
    person: User | None = None
    since: datetime | None = None
    until: datetime | None = None
    record: str = ""


@dataclass(frozen=True, slots=True)
class Source:
    """One table. ``when`` and ``person`` are its columns, ``of_record`` narrows it to a record,

    ``read`` makes lines of keys, in any order.
    """

    key: str
    kind: Kind
    rows: Callable[[], QuerySet[Any]]
    when: str
    person: str
    of_record: Callable[[str], Q]
    read: Callable[[Sequence[int], User], Iterable[Line]]

    def places(self, wanted: Wanted, rank: int, after: Place | None, most: int) -> list[Place]:
        """The first places behind ``after``."""
        rows = self.rows()
        if wanted.person is not None:
            rows = rows.filter(**{self.person: wanted.person})
        if wanted.since is not None:
            rows = rows.filter(**{f"{self.when}__gte": wanted.since})
        if wanted.until is not None:
            rows = rows.filter(**{f"{self.when}__lt": wanted.until})
        if wanted.record:
            rows = rows.filter(self.of_record(wanted.record))
        if after is not None:
            rows = rows.filter(self._behind(rank, after))
        newest = rows.order_by(f"-{self.when}", "-pk").values_list(self.when, "pk")
        return [Place(at, rank, pk) for at, pk in newest[:most]]

    def _behind(self, rank: int, after: Place) -> Q:
        # The bound alone first: along it the index is walked.
        not_before = Q(**{f"{self.when}__lte": after.at})
        if rank > after.rank:
            return not_before
        earlier = Q(**{f"{self.when}__lt": after.at})
        if rank < after.rank:
            return earlier
        return not_before & (earlier | Q(pk__lt=after.pk))
