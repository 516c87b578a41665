"""A paragraph that reads its words plainly and breaks its lines once for each width.

ReportLab reads every text as markup, and breaks its lines whenever it asks how tall something is:
measured, put into a frame, and in a table cell thrice. For a label that is most of what drawing it
takes.
"""

from __future__ import annotations

import re
from functools import lru_cache
from html import unescape
from typing import Final

from reportlab.lib.styles import ParagraphStyle
from reportlab.platypus import Paragraph
from reportlab.platypus.paragraph import cleanBlockQuotedText
from reportlab.platypus.paraparser import ParaFrag

#: Words, some of them bold; all other markup is ReportLab's to read.
_SIMPLE: Final = re.compile(r"[^<]*(?:<b>[^<]+</b>[^<]*)*")
_BOLD: Final = re.compile(r"</?b>")
_KEPT_STYLES: Final = 256


class SetOnce(Paragraph):
    """The same lines as ReportLab's, remembered."""

    _set_at: float | None = None

    def __init__(
        self,
        text: str | None,
        style: ParagraphStyle,
        bulletText: str | None = None,  # noqa: N803 - ReportLab's name
        frags: list[ParaFrag] | None = None,
    ) -> None:
        if frags is None and text and text.strip() and _SIMPLE.fullmatch(text):
            frags = _read(text, style)
        super().__init__(text or "", style, bulletText=bulletText, frags=frags)

    def wrap(self, available_width: float, available_height: float) -> tuple[float, float]:
        # Splitting throws the lines away.
        if self._set_at == available_width and hasattr(self, "blPara"):
            return self.width, self.height
        size: tuple[float, float] = super().wrap(available_width, available_height)
        self._set_at = available_width
        return size

    def least_height(self, smaller: SetOnce) -> float:
        """How tall it is at least, by the lines that ``smaller`` type takes in the same width."""
        return float(smaller.height / smaller.style.leading * self.style.leading)


def _read(text: str, style: ParagraphStyle) -> list[ParaFrag]:
    """What ReportLab reads text of ``_SIMPLE`` markup as."""
    pieces = _BOLD.split(cleanBlockQuotedText(text))  # every other one is bold
    return [
        _words(style, is_bold=bool(at % 2)).clone(text=unescape(piece))
        for at, piece in enumerate(pieces)
        if piece
    ]


@lru_cache(maxsize=_KEPT_STYLES)
def _words(style: ParagraphStyle, *, is_bold: bool) -> ParaFrag:
    """What ReportLab reads a word as."""
    (found,) = Paragraph("<b>word</b>" if is_bold else "word", style).frags
    return found
