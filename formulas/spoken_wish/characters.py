"""A typed line in the few characters the grammar knows, each with its place in the line."""

from __future__ import annotations

import unicodedata
from dataclasses import dataclass
from typing import Final

from django.utils.translation import gettext as _

from blendshop.errors import BadInput

#: A minute of talk; more is no line.
LONGEST_LINE: Final = 400
_ALIKE: Final = {
    "–": "-", "—": "-", "‐": "-", "‑": "-", "−": "-", "⁄": "/", "∕": "/", "×": "x",
    "’": "'", "‘": "'", "≈": "~", "·": ",",
}  # fmt: skip


@dataclass(frozen=True, slots=True)
class PlainLine:
    """``text`` in lower case; ``places[i]`` is where its character ``i`` stands in ``line``."""

    line: str
    text: str
    places: tuple[int, ...]

    def span(self, start: int, end: int) -> tuple[int, int]:
        """Start and end in the line of what stands between ``start`` and ``end`` of the text."""
        return self.places[start], self.places[end - 1] + 1


def plain_line(line: str) -> PlainLine:
    """The line as the grammar reads it; BadInput (field ``line``) when it is no line at all.

    Full-width digits, sub- and superscripts and spaces of all kinds become plain ones (Unicode
    NFKC), ``½`` becomes ``1/2``; characters without a width say nothing.
    """
    if len(line) > LONGEST_LINE:
        raise _refused(
            _("A line has at most {most} characters; this one has {number}.").format(
                most=LONGEST_LINE, number=len(line)
            )
        )
    text: list[str] = []
    places: list[int] = []
    for place, character in enumerate(line):
        for plain in _plain(character):
            text.append(plain)
            places.append(place)
    return PlainLine(line, "".join(text), tuple(places))


def _plain(character: str) -> str:
    kind = unicodedata.category(character)
    if character in "\t\r\n":
        return " "
    if kind in {"Cc", "Cs", "Co", "Cn"}:
        raise _refused(_("The line holds a control character; type it again as plain text."))
    if kind == "Cf":
        return ""
    plain = "".join(_ALIKE.get(each, each) for each in unicodedata.normalize("NFKC", character))
    is_fraction = kind == "No" and "/" in plain
    return f" {plain} " if is_fraction else plain.lower()


def _refused(message: str) -> BadInput:
    return BadInput(message, fields={"line": message})
