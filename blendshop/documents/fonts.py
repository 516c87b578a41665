"""The one embedded font family: Source Sans Pro (OFL 1.1, from PyPI), registered once.

ReportLab's standard fonts have no subscript digits and print a black square instead, without an
error. This family has them, and what it lacks can be asked with ``missing_glyphs``.
"""

from __future__ import annotations

from functools import lru_cache
from typing import Final

import font_source_sans_pro
from reportlab.pdfbase import pdfmetrics
from reportlab.pdfbase.ttfonts import TTFont

REGULAR: Final = "BlendshopSans"
BOLD: Final = "BlendshopSans-Bold"
ITALIC: Final = "BlendshopSans-Italic"
BOLD_ITALIC: Final = "BlendshopSans-BoldItalic"

_FACES: Final = {
    REGULAR: "SourceSansPro",
    BOLD: "SourceSansProBold",
    ITALIC: "SourceSansProIt",
    BOLD_ITALIC: "SourceSansProBoldIt",
}


class _Measured(TTFont):
    """Adds up the widths of a word's letters once; ReportLab does for each line it is tried in."""

    def __init__(self, name: str, file: str) -> None:
        super().__init__(name, file)
        self._units = lru_cache(maxsize=20_000)(self._letters)

    def stringWidth(self, text: str, size: float, encoding: str = "utf8") -> float:  # noqa: N802
        return 0.001 * size * self._units(text)  # as ReportLab multiplies, to the last digit

    def _letters(self, text: str) -> float:
        widths, otherwise = self.face.charWidths, self.face.defaultWidth
        units: float = sum(widths.get(ord(letter), otherwise) for letter in text)
        return units


def _register() -> frozenset[int]:
    """Register the faces; returns the code points that all of them can draw."""
    drawable: set[int] | None = None
    for name, face in _FACES.items():
        font = _Measured(name, font_source_sans_pro.font_files_ttf[face])
        pdfmetrics.registerFont(font)
        glyphs = {code for code, glyph in font.face.charToGlyph.items() if glyph}
        drawable = glyphs if drawable is None else drawable & glyphs
    pdfmetrics.registerFontFamily(
        REGULAR, normal=REGULAR, bold=BOLD, italic=ITALIC, boldItalic=BOLD_ITALIC
    )
    return frozenset(drawable or ())


_DRAWABLE: Final = _register()


def missing_glyphs(text: str) -> list[str]:
    """Characters of ``text`` the papers cannot print, each once, in order of appearance."""
    return [c for c in dict.fromkeys(text) if ord(c) not in _DRAWABLE and c != "\n"]


def text_width(text: str, font_name: str, size_pt: float) -> float:
    """Width of ``text`` in points."""
    return float(pdfmetrics.stringWidth(text, font_name, size_pt))
