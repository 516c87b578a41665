"""Rows of an answer that are very many: the database sorts them and reads what is shown."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping, Sequence
from typing import Any, Final, overload

from django.db.models import Expression, F, FloatField, OrderBy, QuerySet, Value
from django.db.models.functions import Cast, Lower, NullIf

from orders.year_figures.asked import By
from orders.year_figures.table import Row

#: Groupings of which a year has thousands; of the others there are few, whatever the plant's size.
MANY: Final = frozenset({By.CUSTOMER, By.BLEND, By.RECORD})


class GroupRows(Sequence[Row]):
    """``found`` are the sorted groups; each read makes rows of them, a slice only its own."""

    def __init__(
        self,
        found: QuerySet[Any, dict[str, Any]],
        groups: QuerySet[Any, Any],
        row: Callable[[Mapping[str, Any]], Row],
    ) -> None:
        self._found, self._groups, self._row = found, groups, row
        self._length: int | None = None

    def __len__(self) -> int:
        """How many groups there are; one query, asked once."""
        if self._length is None:
            self._length = self._groups.count()
        return self._length

    @overload
    def __getitem__(self, which: int) -> Row: ...
    @overload
    def __getitem__(self, which: slice) -> list[Row]: ...
    def __getitem__(self, which: int | slice) -> Row | list[Row]:
        if isinstance(which, int):
            return self._row(self._found[which])
        return [self._row(each) for each in self._found[which]]

    def __iter__(self) -> Iterator[Row]:
        return (self._row(each) for each in self._found)


def ordering(sort: str, values: Mapping[str, Expression | F]) -> list[OrderBy]:
    """As ``Table.sorted``: what has no figure last either way, equals by name and then by key."""
    key, is_down = sort.removeprefix("-"), sort.startswith("-")
    name = Lower("called")
    if key == "label":
        return [name.desc() if is_down else name.asc(), F("of").asc()]
    value = values[key]
    first = value.desc(nulls_last=True) if is_down else value.asc(nulls_last=True)
    return [first, name.asc(), F("of").asc()]


def ratio(part: str, whole: str) -> Expression:
    """One sum over another; null over nothing."""
    return Cast(part, FloatField()) / NullIf(Cast(whole, FloatField()), Value(0.0))
