"""An answer as a table: columns with their units, rows, one total; written for a page or a file."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import date
from decimal import Decimal
from enum import StrEnum
from functools import partial
from typing import Any, Final, TypeVar

from django.conf import settings

from blendshop.figures.readers import reader
from blendshop.money import money, unit_price
from formulas.models.base_stock import LB_PER_TON

#: Dollars or a physical quantity; a share is of the same.
Quantity = TypeVar("Quantity", Decimal, float)
Figure = Decimal | float | int | str | date | None
NOTHING: Final = "–"


class Kind(StrEnum):
    """What a column's figures are; the heading says the unit."""

    MONEY = "money"
    UNIT_PRICE = "unit_price"
    PERCENT = "percent"
    WHOLE = "whole"
    TENTHS = "tenths"
    TONS = "tons"
    DAY = "day"
    WORDS = "words"


@dataclass(frozen=True, slots=True)
class Column:
    """``worst_is_high`` says which end is looked at first; None of what is neither good nor bad."""

    key: str
    title: str
    kind: Kind
    worst_is_high: bool | None = None

    @property
    def first_sort(self) -> str:
        """How a first press sorts: the worst, else the most, on top."""
        return self.key if self.worst_is_high is False else f"-{self.key}"

    @property
    def is_number(self) -> bool:
        return self.kind not in (Kind.WORDS, Kind.DAY)

    def written(self, value: Figure) -> str:
        """For a person, without the unit; a dash where there is none."""
        if value is None:
            return NOTHING
        match self.kind, value:
            case Kind.MONEY, Decimal():
                return reader().money(money(value), settings.CURRENCY)
            case Kind.UNIT_PRICE, Decimal():
                return reader().unit_price(unit_price(value), settings.CURRENCY)
            case Kind.DAY, date():
                return reader().date(value)
            case Kind.WORDS, _:
                return str(value)
            case _, Decimal() | float() | int():
                return reader().number(value, _PLACES[self.kind])
        raise TypeError(f"{value!r} is not {self.kind}.")

    def in_file(self, value: Figure) -> str:
        """For a program: plain digits, to the places that are shown."""
        if value is None:
            return ""
        match self.kind, value:
            case Kind.MONEY, Decimal():
                return f"{money(value):f}"
            case Kind.UNIT_PRICE, Decimal():
                return f"{unit_price(value):f}"
            case Kind.DAY, date():
                return value.isoformat()
            case Kind.WORDS, _:
                return str(value)
            case _, Decimal() | float() | int():
                return f"{value:.{_PLACES[self.kind]}f}"
        raise TypeError(f"{value!r} is not {self.kind}.")


_PLACES: Final[Mapping[Kind, int]] = {
    Kind.PERCENT: 1,
    Kind.WHOLE: 0,
    Kind.TENTHS: 1,
    Kind.TONS: 2,
}


@dataclass(frozen=True, slots=True)
class Row:
    """``key`` is what it is grouped by: an id, a state, the first of a month; None of nobody."""

    key: Figure
    label: str
    cells: Mapping[str, Figure]


@dataclass(frozen=True, slots=True)
class Table:
    """``counts`` says what is counted, in a sentence; ``notes`` what to know beside it.

    ``drawn`` is the column a chart draws when the rows are sorted by none that can be drawn.
    ``in_order`` reads the rows sorted, where they are so many that the database does it.
    """

    heading: str
    columns: tuple[Column, ...]
    rows: Sequence[Row]
    total: Mapping[str, Figure]
    counts: str
    drawn: str
    sort: str
    notes: tuple[str, ...] = ()
    in_order: Callable[[str], Sequence[Row]] | None = None

    @property
    def sorted_by(self) -> str:
        return self.sort.removeprefix("-")

    @property
    def drawn_column(self) -> Column:
        """What a chart of the rows draws: what they are sorted by, else the usual figure."""
        by = {column.key: column for column in self.columns if column.is_number}
        return by.get(self.sorted_by, by[self.drawn])

    def sorted(self, sort: str) -> Table:
        """By a column, ``-`` in front for the largest first; by the usual one where it has none.

        What has no figure stands last either way, equals by name.
        """
        keys = {column.key for column in self.columns} | {"label"}
        sort = sort if sort.removeprefix("-") in keys else self.sort
        rows = _sorted(self.rows, sort) if self.in_order is None else self.in_order(sort)
        return replace(self, sort=sort, rows=rows)


def table_lines(table: Table, counted: Sequence[str]) -> Iterator[tuple[str, ...]]:
    """All rows for a file; each ends with what was counted."""
    for row in table.rows:
        yield (row.label, *(c.in_file(row.cells[c.key]) for c in table.columns), *counted)


def _sorted(rows: Sequence[Row], sort: str) -> tuple[Row, ...]:
    key = sort.removeprefix("-")
    named = sorted(rows, key=_by_name, reverse=sort == "-label")
    if key == "label":
        return tuple(named)
    known = [row for row in named if row.cells[key] is not None]
    known.sort(key=partial(_figure_in, key), reverse=sort != key)
    return (*known, *(row for row in named if row.cells[key] is None))


def _by_name(row: Row) -> str:
    """By the alphabet, and months as they follow each other."""
    return row.key.isoformat() if isinstance(row.key, date) else row.label.casefold()


def _figure_in(column: str, row: Row) -> Any:
    """Those of one column compare with each other."""
    return row.cells[column]


def share_pct(part: Quantity, whole: Quantity) -> Quantity | None:
    """Percent of the whole; None of nothing."""
    return 100 * part / whole if whole > 0 else None


def per_gal(dollars: Decimal, gal: float) -> Decimal | None:
    """Dollars a gallon, unrounded; None without gallons."""
    return dollars / Decimal(repr(gal)) if gal > 0 else None


def short_tons(mass_lb: float) -> float:
    """Tons of 2,000 lb, as fertilizer is sold and reported."""
    return mass_lb / float(LB_PER_TON)
