"""The label without its review: a placard that is read across a yard, and a 4 by 6 inch label.

Both are one sheet. The placard prints every line of the label; the small label too where it has
room, else what must be read on the package itself, and refers to the placard beside it for
directions and further cautions (common practice, no source; the state's own text decides). A
layout starts at its largest type and shrinks
step by step, never below what is read at arm's length. A label that needs more room than that
is not printed piecemeal: its sheet says so and names the larger layout to take.
"""

from __future__ import annotations

import io
from collections.abc import Callable
from dataclasses import dataclass, replace
from typing import Final

from reportlab.lib.pagesizes import LETTER
from reportlab.lib.units import inch, mm
from reportlab.pdfgen.canvas import Canvas
from reportlab.platypus import BaseDocTemplate, Flowable, Frame, PageBreak, PageTemplate, Paragraph

from blendshop.documents import flowables, styles
from blendshop.documents.document import largest_that_fits
from blendshop.documents.fonts import REGULAR, text_width
from blendshop.documents.styles import LEAST_LABEL_PT as LEAST_PT
from blendshop.documents.text import markup, plain
from blendshop.figures.readers import house
from orders.labels import blocks as label_blocks
from orders.labels.blocks import LabelType
from orders.labels.view_models import LabelDraftView

_TRANSLATION: Final = "Spanish words: our own translation, for review."
#: The space between the sheet's border and what stands in it.
_BORDER_GAP: Final = 4.0
_NAME_SHOWN: Final = 80


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
    story: Callable[[LabelDraftView, LabelType, Sheet], list[Flowable]]
    larger: str

    @property
    def width(self) -> float:
        """Width of what is printed inside the border."""
        return self.size[0] - 2 * (self.margin + _BORDER_GAP)


def _placard_type(scale: float) -> LabelType:
    """Brand, grade and analysis shrink; what is read close up less so."""
    return label_blocks.label_type(
        product=40 * scale,
        grade=58 * scale,
        line=21 * scale,
        net=21 * scale,
        body=max(LEAST_PT, 13 * scale),
        small=max(LEAST_PT, 9 * scale),
    )


def _small_type(scale: float) -> LabelType:
    return label_blocks.label_type(
        product=max(LEAST_PT, 19 * scale),
        grade=max(LEAST_PT, 21 * scale),
        line=max(LEAST_PT, 11 * scale),
        net=max(LEAST_PT, 10.5 * scale),
        body=max(LEAST_PT, 9.5 * scale),
        small=LEAST_PT,
        leading=1.1,
    )


def _notes(view: LabelDraftView) -> tuple[str, ...]:
    return (_TRANSLATION,) if view.is_draft else ()


def _placard_story(view: LabelDraftView, kind: LabelType, sheet: Sheet) -> list[Flowable]:
    return [
        *label_blocks.net_contents(view, kind),
        *label_blocks.name_and_grade(view, kind),
        flowables.gap(kind.gap),
        *label_blocks.analysis(view, kind),
        label_blocks.particulars_block(
            view, kind, sheet.width, qr_side=sheet.qr_side, compact=True
        ),
        *label_blocks.directions_and_cautions(view, kind),
        *(flowables.prose(note, kind.small) for note in _notes(view)),
    ]


def _small_story(view: LabelDraftView, kind: LabelType, sheet: Sheet) -> list[Flowable]:
    """The same words closer: the code beside the head, and running text for lists."""
    return _small(view, kind, sheet, has_placard=False)


def _beside_placard_story(view: LabelDraftView, kind: LabelType, sheet: Sheet) -> list[Flowable]:
    return _small(view, kind, sheet, has_placard=True)


def _small(
    view: LabelDraftView, kind: LabelType, sheet: Sheet, *, has_placard: bool
) -> list[Flowable]:
    notes = _notes(view)
    return [
        label_blocks.head_with_code(view, kind, sheet.width, qr_side=sheet.qr_side),
        *label_blocks.analysis(view, kind),
        *label_blocks.running_text(view, kind, notes, has_placard=has_placard),
    ]


PLACARD: Final = Sheet(
    name="Tote placard",
    size=LETTER,
    margin=9 * mm,
    banner_size=15.0,
    footer_size=9.0,
    qr_side=30 * mm,
    scales=(1.0, 0.92, 0.84, 0.76, 0.68, 0.6, 0.54, 0.48, 0.42),
    type_at=_placard_type,
    story=_placard_story,
    larger="the label on letter pages, which runs on to a second page,",
)
SMALL: Final = Sheet(
    name="Label, 4 by 6 in",
    size=(4 * inch, 6 * inch),
    margin=2.5 * mm,
    banner_size=8.0,
    footer_size=LEAST_PT,
    qr_side=15 * mm,
    scales=(1.0, 0.92, 0.84, 0.76, 0.68, 0.62),
    type_at=_small_type,
    story=_small_story,
    larger="the tote placard, 8½ by 11 in,",
)
BESIDE_PLACARD: Final = replace(SMALL, story=_beside_placard_story)


def render_label_placard(view: LabelDraftView) -> bytes:
    """The tote placard, US Letter, as PDF bytes; the same view gives the same bytes."""
    return _fitted(PLACARD, view) or _told(PLACARD, view)


def render_label_small(view: LabelDraftView) -> bytes:
    """The 4 by 6 inch label as PDF bytes; the same view gives the same bytes."""
    return _fitted(SMALL, view) or _beside_placard(view) or _told(SMALL, view)


def _beside_placard(view: LabelDraftView) -> bytes | None:
    """The small label that refers to the placard, where there is one to refer to."""
    if not view.package_cautions or _largest(PLACARD, view, {}) == len(PLACARD.scales):
        return None
    return _fitted(BESIDE_PLACARD, view)


def _fitted(sheet: Sheet, view: LabelDraftView) -> bytes | None:
    """A sheet for each package weight, at the largest scale that fits; None where none does."""
    measured: dict[float, list[Flowable]] = {}
    first, *others = view.each_weight()
    for scale in sheet.scales[_largest(sheet, view, measured) :]:
        kind = sheet.type_at(scale)
        stories = [
            measured.get(scale) or sheet.story(first, kind, sheet),
            *(sheet.story(each, kind, sheet) for each in others),
        ]
        pdf, pages = _drawn(sheet, view, stories)
        if pages == len(stories):
            return pdf
    return None


def _largest(sheet: Sheet, view: LabelDraftView, measured: dict[float, list[Flowable]]) -> int:
    """The place of the largest scale at which a label of one weight fits; beyond all if none.

    What was measured on the way is put into ``measured``.
    """
    room, first = _page(sheet, view).frames[0].height, view.each_weight()[0]
    place, made = largest_that_fits(
        sheet.scales,
        lambda scale: sheet.story(first, sheet.type_at(scale), sheet),
        sheet.width,
        room,
    )
    measured.update(made)
    return place


def _told(sheet: Sheet, view: LabelDraftView) -> bytes:
    """One sheet that says it does not fit, and what to take."""
    return _drawn(sheet, view, [_does_not_fit(sheet, view)])[0]


def _does_not_fit(sheet: Sheet, view: LabelDraftView) -> list[Flowable]:
    kind = sheet.type_at(sheet.scales[-1])
    width, height = (f"{side / inch:g}" for side in sheet.size)
    words = (
        f"This label does not fit {width} by {height} in: in type that is read at arm's length"
        f" ({LEAST_PT:g} points at least) it needs more room. Take {sheet.larger} instead."
    )
    shown = [flowables.prose(words, kind.heading), flowables.gap(kind.gap)]
    lot = f"{label_blocks.LOT}: {view.lot}" if view.lot else ""
    return [*shown, *(flowables.prose(_cut(line), kind.body) for line in (view.product_name, lot))]


def _cut(text: str) -> str:
    """Enough of a name to know it by; whole it may be what does not fit."""
    return text if len(text) <= _NAME_SHOWN else f"{text[:_NAME_SHOWN]}…"


def _drawn(sheet: Sheet, view: LabelDraftView, stories: list[list[Flowable]]) -> tuple[bytes, int]:
    """The sheets and their number."""
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
    document.addPageTemplates([_page(sheet, view)])
    document.build([piece for story in stories for piece in (*story, PageBreak())])
    return buffer.getvalue(), document.page


def _page(sheet: Sheet, view: LabelDraftView) -> PageTemplate:
    """A bordered sheet: draft in English and Spanish or the approval above, which label below."""
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

    def draw_below(canvas: Canvas, _document: BaseDocTemplate) -> None:
        edge, size = sheet.margin + _BORDER_GAP, sheet.footer_size
        canvas.setFont(REGULAR, size)
        dated = plain(f"{view.number} · {house().date(view.drafted_on)}")
        if text_width(dated, REGULAR, size) <= sheet.width:
            canvas.drawString(edge, edge, dated)

    return PageTemplate("sheet", [frame], onPage=draw_above, onPageEnd=draw_below)
