"""Marks, month names and date order of a locale.

Source: Unicode CLDR, ``common/main/{en,es,es_US}.xml``: ``numbers/symbols``, ``percentFormat``,
``minimumGroupingDigits``, and the gregorian ``dateFormat`` "long" and "full" (the weekday's day
without its year); the tests compare each with Babel's copy. The space before a percent sign is
U+00A0 there, so that the sign is never broken from its figure.
"""

from __future__ import annotations

import datetime as dt
from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Final


@dataclass(frozen=True)
class Locale:
    """How one language and region writes numbers and days.

    A grouping mark stands only where at least ``min_grouping`` digits precede it. ``day`` and
    ``weekday`` are patterns of ``{weekday}``, ``{day}``, ``{month}`` and ``{year}``. ``marks`` are
    the units whose English mark is made of words, in the house's own translation.
    """

    tag: str
    decimal: str
    group: str
    min_grouping: int
    percent: str
    months: tuple[str, ...]
    weekdays: tuple[str, ...]
    day: str
    weekday: str
    marks: Mapping[str, str] = field(default_factory=dict, compare=False)

    def mark(self, mark: str) -> str:
        """What stands behind a figure: a unit whose mark is made of words, in this language."""
        return self.marks.get(mark, mark)

    def number(self, plain: str, *, grouped: bool = True) -> str:
        """``-1234.50`` with this locale's marks: ``-1,234.50``."""
        sign = "-" if plain.startswith("-") else ""
        whole, _, fraction = plain.removeprefix("-").partition(".")
        if grouped and len(whole) >= 3 + self.min_grouping:
            whole = f"{int(whole):,}".replace(",", self.group)
        return f"{sign}{whole}{self.decimal if fraction else ''}{fraction}"

    def date(self, day: dt.date) -> str:
        """``March 2, 2026``: the month as a word, because 3/2 is read two ways."""
        return self._dated(self.day, day)

    def weekday_and_date(self, day: dt.date) -> str:
        """``Monday, March 2``: a day that is near, so without its year."""
        return self._dated(self.weekday, day)

    def _dated(self, pattern: str, day: dt.date) -> str:
        return pattern.format(
            weekday=self.weekdays[day.weekday()],
            day=day.day,
            month=self.months[day.month - 1],
            year=day.year,
        )


_ES_MONTHS: Final = (
    "enero",
    "febrero",
    "marzo",
    "abril",
    "mayo",
    "junio",
    "julio",
    "agosto",
    "septiembre",
    "octubre",
    "noviembre",
    "diciembre",
)
_ES_WEEKDAYS: Final = ("lunes", "martes", "miércoles", "jueves", "viernes", "sábado", "domingo")
_ES_MARKS: Final = {
    "acre": "ac",
    "lb per 1,000 sq ft": "lb por 1,000 pies²",
    "1,000 sq ft": "1,000 pies²",
    "ft": "pies",
}

EN_US: Final = Locale(
    tag="en-US",
    decimal=".",
    group=",",
    min_grouping=1,
    percent="{}%",
    months=(
        "January",
        "February",
        "March",
        "April",
        "May",
        "June",
        "July",
        "August",
        "September",
        "October",
        "November",
        "December",
    ),
    weekdays=("Monday", "Tuesday", "Wednesday", "Thursday", "Friday", "Saturday", "Sunday"),
    day="{month} {day}, {year}",
    weekday="{weekday}, {month} {day}",
)
#: Spanish as written in the United States: a crew reads the same marks in both languages.
ES_US: Final = Locale(
    tag="es-US",
    decimal=".",
    group=",",
    min_grouping=1,
    percent="{}%",
    months=_ES_MONTHS,
    weekdays=_ES_WEEKDAYS,
    day="{day} de {month} de {year}",
    weekday="{weekday}, {day} de {month}",
    marks=_ES_MARKS,
)
#: Spanish at large, with the comma before the decimals.
ES: Final = Locale(
    tag="es",
    decimal=",",
    group=".",
    min_grouping=2,
    percent="{}\u00a0%",
    months=_ES_MONTHS,
    weekdays=_ES_WEEKDAYS,
    day="{day} de {month} de {year}",
    weekday="{weekday}, {day} de {month}",
    marks=_ES_MARKS,
)
LOCALES: Final[Mapping[str, Locale]] = {locale.tag: locale for locale in (EN_US, ES_US, ES)}
