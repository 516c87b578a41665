"""Nutrients, ingredients and slow release by what people call them."""

from __future__ import annotations

from typing import Final

from formulas.engine.composition import SLOW_RELEASE
from formulas.spoken_wish.cursor import Cursor
from formulas.spoken_wish.vocabulary import CONTENTS, SLOW

_LONGEST_FIRST: Final = tuple(sorted(CONTENTS, key=len, reverse=True))


def take_content(cursor: Cursor) -> str:
    """The composition key of a nutrient or ingredient said here; "" for anything else."""
    name = cursor.take_phrase(*_LONGEST_FIRST)
    return CONTENTS[name] if name else ""


def take_slow(cursor: Cursor) -> str:
    """``SLOW_RELEASE`` where it is said here; "" for anything else."""
    if not cursor.take_phrase(*SLOW):
        return ""
    cursor.take_phrase("water soluble nitrogen", "total nitrogen", "nitrogen", "n")
    return SLOW_RELEASE


def take_subject(cursor: Cursor) -> str:
    """A content or the slow-release share."""
    return take_slow(cursor) or take_content(cursor)


def is_subject(cursor: Cursor) -> bool:
    """Whether one is said here; the cursor stays."""
    begin = cursor.at
    found = bool(take_subject(cursor))
    cursor.at = begin
    return found
