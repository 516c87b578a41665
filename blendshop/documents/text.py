"""Cleaning and escaping of everything that reaches a paper.

Names, notes and terms are typed by people; ReportLab reads them as XML and prints a black square
for a character the font lacks. All text passes through here first.
"""

from __future__ import annotations

import re
import unicodedata
import warnings
from functools import lru_cache
from typing import Final
from xml.sax.saxutils import escape

from blendshop.documents.fonts import missing_glyphs

#: Printed for a character the embedded font cannot draw.
SUBSTITUTE: Final = "?"
#: Signs the font lacks that have an equal in it.
_EQUALS: Final = str.maketrans(
    {
        "\u2009": "\u00a0",  # thin space
        "\u202f": "\u00a0",  # narrow no-break space
        "\u2011": "-",  # no-break hyphen
        "\u2194": "<->",
        "\t": " ",
        "\u2028": "\n",
        "\u2029": "\n",
    }
)
_MOST_MARKS: Final = 2  # combining marks kept on one letter; more would run into other lines
_FORMULAS: Final = re.compile(r"(?<![A-Za-z0-9])(?:P2O5|K2O|H3PO4|H2SO4|H2O)(?![A-Za-z0-9])")
_SUBSCRIPTS: Final = str.maketrans("0123456789", "₀₁₂₃₄₅₆₇₈₉")
_UNPRINTABLE: Final = frozenset({"Cc", "Cf", "Cs", "Co", "Cn"})


class MissingGlyphWarning(UserWarning):
    """A character cannot be printed in the papers' font; a substitute stands in its place."""


def clean(text: str) -> str:
    """``text`` in composed form, without control or invisible characters.

    Line breaks stay. Warns with ``MissingGlyphWarning`` (an error in our tests) when a
    character has to be replaced by ``SUBSTITUTE``.
    """
    cleaned, missing = _cleaned(text)
    if missing:
        names = ", ".join(f"{c!r} (U+{ord(c):04X})" for c in missing)
        warnings.warn(f"No glyph for {names}.", MissingGlyphWarning, stacklevel=2)
    return cleaned


@lru_cache(maxsize=1024)  # headings and cautions are the same on every paper
def _cleaned(text: str) -> tuple[str, tuple[str, ...]]:
    """The text as it can be drawn, and the characters that a substitute stands for."""
    text = unicodedata.normalize("NFC", text.replace("\r\n", "\n").replace("\r", "\n"))
    kept: list[str] = []
    marks = 0
    for char in text.translate(_EQUALS):
        category = unicodedata.category(char)
        marks = marks + 1 if category == "Mn" else 0
        if char == "\n" or (category not in _UNPRINTABLE and marks <= _MOST_MARKS):
            kept.append(char)
    cleaned = "".join(kept)
    missing = tuple(missing_glyphs(cleaned))
    return cleaned.translate({ord(c): SUBSTITUTE for c in missing}), missing


def plain(text: str) -> str:
    """Cleaned text on one line with real subscripts, for drawing operators and metadata."""
    return " ".join(_with_subscripts(clean(text)).split())


def markup(text: str) -> str:
    """Cleaned prose for a ``Paragraph``: escaped, subscripts set, line breaks kept."""
    return escape(_with_subscripts(clean(text))).replace("\n", "<br/>")


def exact(text: str) -> str:
    """Cleaned and escaped, otherwise letter for letter: codes, lot numbers, addresses."""
    return escape(clean(text)).replace("\n", "<br/>")


def _with_subscripts(text: str) -> str:
    """P2O5 becomes P₂O₅, where it stands as a word of its own."""
    return _FORMULAS.sub(lambda match: match.group().translate(_SUBSCRIPTS), text)
