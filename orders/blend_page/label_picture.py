"""The label preview as a picture: the analysis block as it would stand on a container.

It repeats in a picture what the list below it says in words, and is marked as a draft.
"""

from __future__ import annotations

from collections.abc import Iterator
from typing import Final

from django.utils.safestring import SafeString
from reportlab.graphics.shapes import Drawing, Rect
from reportlab.lib.colors import white

from blendshop.charts import INK, chart_line, chart_text, drawing_to_svg, text_room
from blendshop.documents.fonts import REGULAR
from formulas.answers.label import LabelAnswer

_WIDTH: Final = 400.0
_EDGE: Final = 16.0
_LINE: Final = 22.0
_INDENT: Final = 20.0
_ROOM: Final = _WIDTH - 2 * _EDGE


def label_picture(draft: LabelAnswer) -> SafeString:
    """Inline SVG of a label draft's analysis block; ``draft`` is the label contract's answer."""
    derived = f"Derived from: {', '.join(draft.derived_from)}." if draft.derived_from else ""
    small = [*_wrapped(draft.slow_release_statement or ""), *_wrapped(derived)]
    rows = 4 + len(draft.guarantees) + len(small)
    height = rows * _LINE + 2 * _EDGE
    drawing = Drawing(_WIDTH, height)
    frame = Rect(1, 1, _WIDTH - 2, height - 2)
    frame.fillColor, frame.strokeColor, frame.strokeWidth = white, INK, 2
    drawing.add(frame)
    y = height - _EDGE - _LINE / 2
    drawing.add(chart_text(_WIDTH / 2, y, "DRAFT for review, not a label", anchor="middle"))
    y -= _LINE
    drawing.add(chart_text(_EDGE, y, draft.grade or "", bold=True))
    y -= _LINE
    drawing.add(chart_text(_EDGE, y, "GUARANTEED ANALYSIS", bold=True))
    drawing.add(chart_line(_EDGE, y - 6, _WIDTH - _EDGE, y - 6, INK, 1))
    for line in draft.guarantees:
        y -= _LINE
        inset = _INDENT if line.parent else 0.0
        drawing.add(chart_text(_EDGE + inset, y, line.label))
        drawing.add(chart_text(_WIDTH - _EDGE - inset, y, f"{line.printed}%", anchor="end"))
    drawing.add(chart_line(_EDGE, y - 6, _WIDTH - _EDGE, y - 6, INK, 1))
    for text in small:
        y -= _LINE
        drawing.add(chart_text(_EDGE, y, text))
    title = f"Label draft {draft.grade or 'without a grade'}"
    return drawing_to_svg(drawing, title, "The same lines stand in the list below.", "label-draft")


def _wrapped(text: str) -> Iterator[str]:
    line = ""
    for word in text.split():
        longer = f"{line} {word}".strip()
        if line and text_room(longer, REGULAR) > _ROOM:
            yield line
            longer = word
        line = longer
    if line:
        yield line
