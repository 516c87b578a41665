"""The label without its review: a placard that is read across a yard, and a 4 by 6 inch label.

Both print every line of the label. A layout starts at its largest type and shrinks step by step
until everything stands on one sheet; where even its smallest readable type needs more, it goes on
to further sheets, each with the mark of a draft or its approval. A piece that fits no sheet raises
ReportLab's ``LayoutError``: nothing is ever clipped.
"""

from __future__ import annotations

import io
from collections.abc import Callable
from dataclasses import dataclass
from typing import Any, Final

from reportlab.lib.pagesizes import LETTER
from reportlab.lib.units import inch, mm
from reportlab.pdfgen.canvas import Canvas
from reportlab.platypus import BaseDocTemplate, Flowable, Frame, PageBreak, PageTemplate, Paragraph

from blendshop.documents import flowables, styles
from blendshop.documents.fonts import REGULAR, text_width
from blendshop.documents.text import markup, plain
from blendshop.figures.readers import house
from orders.labels import blocks as label_blocks
from orders.labels.blocks import LabelType
from orders.labels.view_models import LabelDraftView

_TRANSLATION: Final = "Spanish words: our own translation, for review."
#: The space between the sheet's border and what stands in it.
_BORDER_GAP: Final = 5.0


@dataclass(frozen=True, slots=True)
class Sheet:
    """One layout: its paper name, page size and margin in points, and type by scale."""

    name: str
    size: tuple[float, float]
    margin: float
    banner_size: float
    footer_size: float
    qr_side: float
    scales: tuple[float, ...]
    type_at: Callable[[float], LabelType]
    compact: bool = False

    @property
    def width(self) -> float:
        """Width of what is printed inside the border."""
        return self.size[0] - 2 * (self.margin + _BORDER_GAP)


def _placard_type(scale: float) -> LabelType:
    """Brand, grade and analysis shrink; what is read close up stays at 8 points or more."""
    return label_blocks.label_type(
        product=40 * scale,
        grade=58 * scale,
        line=21 * scale,
        net=21 * scale,
        body=max(8.0, 13 * scale),
        small=max(7.0, 9 * scale),
    )


def _small_type(scale: float) -> LabelType:
    return label_blocks.label_type(
        product=17 * scale,
        grade=19 * scale,
        line=9.5 * scale,
        net=9.5 * scale,
        body=7.4 * scale,
        small=6.4 * scale,
    )


PLACARD: Final = Sheet(
    name="Tote placard",
    size=LETTER,
    margin=9 * mm,
    banner_size=15.0,
    footer_size=9.0,
    qr_side=30 * mm,
    scales=(1.0, 0.92, 0.84, 0.76, 0.68, 0.6, 0.54),
    type_at=_placard_type,
    compact=True,
)
#: At its smallest the directions stand in 6 point type.
SMALL: Final = Sheet(
    name="Label, 4 by 6 in",
    size=(4 * inch, 6 * inch),
    margin=3.5 * mm,
    banner_size=8.5,
    footer_size=6.0,
    qr_side=17 * mm,
    scales=(1.0, 0.94, 0.88, 0.82),
    type_at=_small_type,
    compact=True,
)


def render_label_placard(view: LabelDraftView) -> bytes:
    """The tote placard, US Letter, as PDF bytes; the same view gives the same bytes."""
    return _fitted(PLACARD, view)


def render_label_small(view: LabelDraftView) -> bytes:
    """The 4 by 6 inch label as PDF bytes; the same view gives the same bytes."""
    return _fitted(SMALL, view)


def _fitted(sheet: Sheet, view: LabelDraftView) -> bytes:
    """A label for each package weight, on as few sheets as the smallest scale needs.

    At the largest scale that needs no more.
    """
    sheets, labels = {}, len(view.each_weight())
    for scale in sheet.scales:
        pdf, sheets[scale] = _drawn(sheet, view, scale, labels)
        if sheets[scale] == labels:
            return pdf
    fewest = min(sheets.values())
    largest = next(scale for scale, count in sheets.items() if count == fewest)
    return _drawn(sheet, view, largest, fewest)[0]


def _drawn(sheet: Sheet, view: LabelDraftView, scale: float, of: int) -> tuple[bytes, int]:
    """The sheets and their number; ``of`` is the number printed at the foot."""
    buffer = io.BytesIO()
    document = BaseDocTemplate(
        buffer,
        pagesize=sheet.size,
        title=plain(f"{sheet.name} {view.number}"),
        author=plain(view.plant.name),
        subject=plain(f"{'Draft label' if view.is_draft else 'Label'} of {view.product_name}"),
        creator="Blendshop",
        producer="Blendshop",
        lang="en-US",
        displayDocTitle=True,
        initialFontName=REGULAR,
        invariant=1,
    )
    document.addPageTemplates([_page(sheet, view, of)])
    kind = sheet.type_at(scale)
    stories = [_story(sheet, each, kind) for each in view.each_weight()]
    document.build([piece for story in stories for piece in (*story, PageBreak())])
    return buffer.getvalue(), document.page


def _story(sheet: Sheet, view: LabelDraftView, kind: LabelType) -> list[Flowable]:
    return [
        *label_blocks.net_contents(view, kind),
        *label_blocks.name_and_grade(view, kind),
        flowables.gap(kind.gap),
        *label_blocks.analysis(view, kind),
        label_blocks.particulars_block(
            view, kind, sheet.width, qr_side=sheet.qr_side, compact=sheet.compact
        ),
        *label_blocks.directions_and_cautions(view, kind),
        *([flowables.prose(_TRANSLATION, kind.small)] if view.is_draft else []),
    ]


def _page(sheet: Sheet, view: LabelDraftView, of: int) -> PageTemplate:
    """A bordered sheet: draft in English and Spanish or the approval above, which sheet below."""
    width, height = sheet.size
    words, size = markup(label_blocks.standing(view)), sheet.footer_size
    if view.is_draft:
        words, size = f"{words}<br/>{markup(label_blocks.SPANISH_BANNER)}", sheet.banner_size
    banner = Paragraph(words, label_blocks.banner_style(size))
    _, banner_height = banner.wrap(sheet.width, height)
    top = height - sheet.margin - _BORDER_GAP - banner_height
    foot = sheet.margin + sheet.footer_size + _BORDER_GAP
    frame = Frame(
        sheet.margin + _BORDER_GAP,
        foot,
        sheet.width,
        top - 2 * _BORDER_GAP - foot,
        leftPadding=0,
        rightPadding=0,
        topPadding=0,
        bottomPadding=0,
    )

    def draw_above(canvas: Canvas, _document: BaseDocTemplate) -> None:
        edge = sheet.margin
        canvas.setFillColor(styles.TINT)
        canvas.rect(
            edge, top - _BORDER_GAP, width - 2 * edge, height - edge - top + _BORDER_GAP, 0, 1
        )
        canvas.setFillColor(styles.INK)
        canvas.setLineWidth(styles.HEAVY_RULE)
        canvas.rect(edge, edge, width - 2 * edge, height - 2 * edge, 1, 0)
        canvas.setLineWidth(styles.RULE)
        canvas.line(edge, top - _BORDER_GAP, width - edge, top - _BORDER_GAP)
        banner.drawOn(canvas, edge + _BORDER_GAP, top)

    def draw_below(canvas: Canvas, document: Any) -> None:
        edge, size = sheet.margin + _BORDER_GAP, sheet.footer_size
        canvas.setFont(REGULAR, size)
        page = f"Sheet {document.page} of {of}"
        dated = f"{view.number} · {house().date(view.drafted_on)}"
        room = sheet.width - text_width(page, REGULAR, size) - _BORDER_GAP
        # Which label a second sheet belongs to; what does not fit stands in the label itself.
        for left in map(plain, (f"{view.product_name} · {dated}", dated)):
            if text_width(left, REGULAR, size) <= room:
                canvas.drawString(edge, edge, left)
                break
        canvas.drawRightString(width - edge, edge, page)

    return PageTemplate("sheet", [frame], onPage=draw_above, onPageEnd=draw_below)
