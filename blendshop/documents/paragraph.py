"""A paragraph that reads its words plainly and breaks its lines once for each width.

ReportLab reads every text as markup, and breaks its lines whenever it asks how tall something is:
measured, put into a frame, and in a table cell thrice. For a label that is most of what drawing it
takes.
"""

from __future__ import annotations

from functools import lru_cache
from typing import Final

from reportlab.lib.styles import ParagraphStyle
from reportlab.platypus import Paragraph
from reportlab.platypus.paragraph import cleanBlockQuotedText
from reportlab.platypus.paraparser import ParaFrag

#: A text with one of these is markup.
_MARKED: Final = frozenset("<&")
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
        if frags is None and text and text.strip() and _MARKED.isdisjoint(text) and not style.textTransform:
            text = cleanBlockQuotedText(text)
            frags = [_read(style).clone(text=text)]
        super().__init__(text, style, bulletText=bulletText, frags=frags)

    def wrap(self, available_width: float, available_height: float) -> tuple[float, float]:
        # Splitting throws the lines away.
        if self._set_at == available_width and hasattr(self, "blPara"):
            return self.width, self.height
        size: tuple[float, float] = super().wrap(available_width, available_height)
        self._set_at = available_width
        return size


@lru_cache(maxsize=_KEPT_STYLES)
def _read(style: ParagraphStyle) -> ParaFrag:
    """What ReportLab reads words without markup as."""
    (found,) = Paragraph("words", style).frags
    return found
