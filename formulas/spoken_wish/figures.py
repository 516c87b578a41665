"""Numbers as they are typed or said: 0.1, 1,200, 2 1/2, half, twenty-four, point one."""

from __future__ import annotations

import re
from collections.abc import Mapping
from dataclasses import dataclass
from fractions import Fraction
from typing import Final

from formulas.spoken_wish.cursor import Cursor
from formulas.spoken_wish.tokens import Kind, Token

_ONES: Final[Mapping[str, int]] = {
    "zero": 0, "one": 1, "two": 2, "three": 3, "four": 4, "five": 5, "six": 6, "seven": 7,
    "eight": 8, "nine": 9, "ten": 10, "eleven": 11, "twelve": 12, "thirteen": 13,
    "fourteen": 14, "fifteen": 15, "sixteen": 16, "seventeen": 17, "eighteen": 18,
    "nineteen": 19,
}  # fmt: skip
_TENS: Final[Mapping[str, int]] = {
    "twenty": 20, "thirty": 30, "forty": 40, "fifty": 50, "sixty": 60, "seventy": 70,
    "eighty": 80, "ninety": 90,
}  # fmt: skip
_PARTS: Final[Mapping[str, int]] = {
    "half": 2, "halves": 2, "third": 3, "thirds": 3, "quarter": 4, "quarters": 4, "fourth": 4,
    "fourths": 4, "fifth": 5, "fifths": 5, "eighth": 8, "eighths": 8, "tenth": 10, "tenths": 10,
}  # fmt: skip
_DOZEN: Final = 12
#: Behind digits: ``5 hundred``.
_TIMES: Final[Mapping[str, int]] = {"dozen": _DOZEN, "hundred": 100, "thousand": 1000}
#: First words of what only a share of the nitrogen is said of.
_SHARED: Final = frozenset({"slow", "slowly", "controlled", "srn", "of"})
_THOUSANDS: Final = re.compile(r"[1-9]\d{0,2}(,\d{3})+(\.\d+)?\Z")
#: No share of a blend is said in finer parts.
_FINEST_PART: Final = 16


@dataclass(frozen=True, slots=True)
class Figure:
    """``is_part``: said as a part of something (half, 1/3).

    ``with_comma`` is what was typed if a comma is in it; it groups thousands where
    ``is_grouped``, else it may be a decimal point.
    """

    value: Fraction
    is_part: bool = False
    with_comma: str = ""
    is_grouped: bool = False

    @property
    def number(self) -> float:
        """To four decimals where it has no end (a third)."""
        found = float(self.value)
        return found if self._has_end else round(found, 4)

    @property
    def pct(self) -> float:
        """A part of the whole in percent: a third is 33.3333."""
        return Figure(self.value * 100).number

    @property
    def is_unsure(self) -> bool:
        """Whether its comma may be a decimal point."""
        return bool(self.with_comma) and not self.is_grouped

    @property
    def with_point(self) -> Figure:
        """The comma read as a decimal point, further ones dropped."""
        whole, _, rest = self.with_comma.partition(",")
        return Figure(_fraction(f"{whole}.{rest.replace(',', '').replace('.', '')}"))

    @property
    def _has_end(self) -> bool:
        rest = self.value.denominator
        for prime in (2, 5):
            while rest % prime == 0:
                rest //= prime
        return rest == 1


ONE: Final = Figure(Fraction(1))
#: The whole of something, said as its part.
EVERYTHING: Final = Figure(Fraction(1), is_part=True)


def take_figure(cursor: Cursor) -> Figure | None:
    """The number that stands here, however it is said."""
    return _typed(cursor) or _half_dozen(cursor) or _said_part(cursor) or _said_number(cursor)


def _typed(cursor: Cursor) -> Figure | None:
    if token := cursor.take_kind(Kind.COMMA):
        return Figure(
            _fraction(token.text.replace(",", "")),
            with_comma=token.text,
            is_grouped=bool(_THOUSANDS.match(token.text)),
        )
    if token := cursor.take_kind(Kind.NUMBER):
        part = _part(cursor.peek()) if token.text.isdigit() else None
        if part is None or _is_share(cursor):
            times = _TIMES.get(cursor.text, 1)
            cursor.at += times > 1
            return _and_a_part(cursor, Figure(_fraction(token.text) * times))
        cursor.at += 1
        return Figure(_fraction(token.text) + part)
    part = _part(cursor.peek())
    if part is None:
        return None
    cursor.at += 1
    return Figure(part, is_part=True)


def _is_share(cursor: Cursor) -> bool:
    """Whether the fraction here is one of slow release: ``24 N 1/2 slow``, ``3 1/2 of it``."""
    behind = cursor.peek(1)
    return behind is not None and behind.text in _SHARED


def _fraction(text: str) -> Fraction:
    return Fraction("0" + text)


def _part(token: Token | None) -> Fraction | None:
    """``1/2``; not ``60/40`` or ``24/0/3``."""
    if token is None or token.kind is not Kind.RATIO or token.text.count("/") != 1:
        return None
    over, under = (int(each) for each in token.text.split("/"))
    return Fraction(over, under) if 0 < over < under <= _FINEST_PART else None


def _half_dozen(cursor: Cursor) -> Figure | None:
    if cursor.take_phrase("half a dozen", "a half dozen", "half dozen"):
        return Figure(Fraction(_DOZEN, 2))
    return None


def _said_part(cursor: Cursor) -> Figure | None:
    """``half``, ``a third``, ``two thirds``."""
    begin = cursor.at
    count = 1
    if not cursor.take("a", "an"):
        count = _ONES.get(cursor.text, 0)
        cursor.at += bool(count)
    under = _PARTS.get(cursor.text)
    if under is None or (count or 1) > under:
        cursor.at = begin
        return None
    cursor.at += 1
    return Figure(Fraction(count or 1, under), is_part=True)


def _and_a_part(cursor: Cursor, whole: Figure) -> Figure:
    """``two and a half``; the number alone where nothing like it follows."""
    begin = cursor.at
    if cursor.take("and"):
        part = _said_part(cursor) if cursor.text in ("a", "an") else None
        if part is not None and cursor.text not in ("of", "slow"):
            return Figure(whole.value + part.value)
    cursor.at = begin
    return whole


def _said_number(cursor: Cursor) -> Figure | None:
    """``twenty-four``, ``two hundred``, ``two and a half``, ``point one``, ``a dozen``."""
    begin = cursor.at
    if cursor.take_phrase("a dozen", "dozen"):
        return Figure(Fraction(_DOZEN))
    if cursor.take_phrase("a hundred", "hundred"):
        return Figure(Fraction(100))
    if cursor.take_phrase("a couple of", "a couple", "couple of", "couple", "a pair of"):
        return Figure(Fraction(2))
    whole = _said_whole(cursor)
    if cursor.text == "point":
        cursor.at += 1
        decimals = _said_decimals(cursor)
        if decimals:
            return Figure(Fraction(f"{whole or 0}.{decimals}"))
        cursor.at = begin
        return None
    return None if whole is None else _and_a_part(cursor, Figure(Fraction(whole)))


def _said_whole(cursor: Cursor) -> int | None:
    found = _below_thousand(cursor)
    if found is not None and cursor.take("thousand"):
        found = found * 1000 + (_below_thousand(cursor) or 0)
    return found


def _below_thousand(cursor: Cursor) -> int | None:
    """``two hundred five``, and as people say it ``twenty-two hundred``."""
    found = _below_hundred(cursor)
    if found is not None and cursor.take("hundred"):
        found = found * 100 + (_below_hundred(cursor) or 0)
    return found


def _below_hundred(cursor: Cursor) -> int | None:
    tens = _TENS.get(cursor.text)
    if tens is None:
        ones = _ONES.get(cursor.text)
        cursor.at += ones is not None
        return ones
    cursor.at += 1
    ones = _ONES.get(cursor.text, 0)
    if not 0 < ones < 10:
        return tens
    cursor.at += 1
    return tens + ones


def _said_decimals(cursor: Cursor) -> str:
    """Digits behind "point", said one by one or typed."""
    found = ""
    while (digit := _ONES.get(cursor.text, 10)) < 10:
        found += str(digit)
        cursor.at += 1
    if not found and cursor.text.isdigit() and cursor.take_kind(Kind.NUMBER):
        found = cursor.tokens[cursor.at - 1].text
    return found
