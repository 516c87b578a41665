"""A line cut into numbers, words and signs."""

from __future__ import annotations

import re
from dataclasses import dataclass
from enum import Enum, auto
from typing import Final

from formulas.spoken_wish.characters import PlainLine


class Kind(Enum):
    """What a token is. ``COMMA``: digits with a comma among them; ``RATIO``: ``1/2``, ``60/40``."""

    NUMBER = auto()
    COMMA = auto()
    RATIO = auto()
    WORD = auto()
    SIGN = auto()


@dataclass(frozen=True, slots=True)
class Token:
    """``start`` and ``end`` are places in the plain text; ``spelled`` keeps capital letters.

    ``is_glued``: no space was typed before it, as in ``3½``.
    """

    kind: Kind
    text: str
    start: int
    end: int
    spelled: str
    is_glued: bool = False


_DIGITS: Final = frozenset("0123456789.")
_ENDS_OF_FIGURES: Final = frozenset("0123456789%")
#: No figure of the trade has more digits.
_LONGEST_FIGURE: Final = 15
_PATTERN: Final = re.compile(
    r"(?P<COMMA>\d+(?:,\d+)+(?:\.\d+)?)"
    r"|(?P<RATIO>\d+(?:/\d+)+)"
    r"|(?P<NUMBER>\d+(?:\.\d+)?|\.\d+)"
    # Digits end a word (n24 is N 24), except in these names.
    r"|(?P<WORD>w/o\b|w/|k2o|p2o5|ft2|[a-z]+(?:'[a-z]+)?)"
    r"|(?P<SIGN><=|>=|\S)"
)


def tokens_of(plain: PlainLine) -> tuple[Token, ...]:
    """The tokens of a line. A hyphen inside a word or before one is dropped: ``ride-on``."""
    found: list[Token] = []
    end_before = -1
    for match in _PATTERN.finditer(plain.text):
        start, end = match.span()
        if match.group() == "-" and not _is_dash(plain.text, start):
            continue
        first, last = plain.span(start, end)
        kind = Kind[str(match.lastgroup)]
        if kind is not Kind.WORD and len(match.group()) > _LONGEST_FIGURE:
            kind = Kind.SIGN
        is_glued = first == end_before
        found.append(Token(kind, match.group(), start, end, plain.line[first:last], is_glued))
        end_before = last
    return tuple(found)


def _is_dash(text: str, place: int) -> bool:
    """Whether it stands between two numbers (a grade, a range) or right before one as a minus."""
    before, after = text[:place], text[place + 1 :]
    if before.rstrip()[-1:] in _ENDS_OF_FIGURES:
        return after.lstrip()[:1] in _DIGITS
    return after[:1] in _DIGITS and before[-1:] in ("", " ", ",")
