"""The states of the United States and the District of Columbia by name and two letters.

Source: 4 U.S.C. and USPS Publication 28, appendix B.
"""

from __future__ import annotations

from collections.abc import Mapping
from typing import Final

from formulas.spoken_wish.cursor import Cursor
from formulas.spoken_wish.tokens import Kind

_NAMES: Final[Mapping[str, str]] = {
    "alabama": "AL", "alaska": "AK", "arizona": "AZ", "arkansas": "AR", "california": "CA",
    "colorado": "CO", "connecticut": "CT", "delaware": "DE", "district of columbia": "DC",
    "washington dc": "DC", "florida": "FL", "georgia": "GA", "hawaii": "HI", "idaho": "ID",
    "illinois": "IL", "indiana": "IN", "iowa": "IA", "kansas": "KS", "kentucky": "KY",
    "louisiana": "LA", "maine": "ME", "maryland": "MD", "massachusetts": "MA", "michigan": "MI",
    "minnesota": "MN", "mississippi": "MS", "missouri": "MO", "montana": "MT", "nebraska": "NE",
    "nevada": "NV", "new hampshire": "NH", "new jersey": "NJ", "new mexico": "NM",
    "new york": "NY", "north carolina": "NC", "north dakota": "ND", "ohio": "OH",
    "oklahoma": "OK", "oregon": "OR", "pennsylvania": "PA", "rhode island": "RI",
    "south carolina": "SC", "south dakota": "SD", "tennessee": "TN", "texas": "TX", "utah": "UT",
    "vermont": "VT", "virginia": "VA", "washington": "WA", "west virginia": "WV",
    "wisconsin": "WI", "wyoming": "WY",
}  # fmt: skip
STATES: Final[Mapping[str, str]] = {code: name for name, code in _NAMES.items()}
_LONGEST_FIRST: Final = tuple(sorted(_NAMES, key=len, reverse=True))
#: Codes that are words or symbols of elements in capitals too: only behind "for", "in", "to".
_OTHER_WORDS: Final = frozenset({
    "AL", "CA", "CO", "HI", "ID", "IN", "LA", "MA", "ME", "MN", "MO", "OH", "OK", "OR",
})  # fmt: skip
_BEFORE: Final = ("for", "in", "to", "from", "into")


def take_state(cursor: Cursor) -> str:
    """The two letters of a state said here; "" for anything else.

    Letters count only in capitals, and where they are another word too only behind a
    preposition: ``me``, ``or`` and ``in`` are no states, ``for ME`` is one.
    """
    name = cursor.take_phrase(*_LONGEST_FIRST)
    if name:
        return _NAMES[name]
    ahead = 1 if cursor.text in _BEFORE else 0
    token = cursor.peek(ahead)
    if token is None or token.spelled not in STATES:
        return ""
    if not ahead and (token.spelled in _OTHER_WORDS or _is_shouted(cursor)):
        return ""
    if ahead and token.spelled in _OTHER_WORDS and _is_shouted(cursor):
        return ""
    cursor.at += ahead + 1
    return token.spelled


def _is_shouted(cursor: Cursor) -> bool:
    """Whether the line is all capitals, so that capitals say nothing."""
    words = [token.spelled for token in cursor.tokens if token.kind is Kind.WORD]
    long = [word for word in words if len(word) > 3]
    return bool(long) and all(word.isupper() for word in long)
