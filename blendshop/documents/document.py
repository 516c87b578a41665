"""The page frame of every paper: US Letter, header, footer, "page x of y", metadata.

``render`` is deterministic: the same masthead and story give the same bytes (ReportLab's
``invariant`` mode, which leaves out the clock).
"""

from __future__ import annotations

import io
import math
import re
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from functools import partial
from itertools import zip_longest
from typing import Any, Final

from reportlab.pdfgen.canvas import Canvas
from reportlab.platypus import (
    ActionFlowable,
    BaseDocTemplate,
    Flowable,
    Frame,
    Indenter,
    NextPageTemplate,
    PageTemplate,
    Paragraph,
    Table,
)

from blendshop.documents import styles
from blendshop.documents.fonts import BOLD, REGULAR, text_width
from blendshop.documents.paragraph import SetOnce
from blendshop.documents.text import exact, markup, plain

_FOOTER_SIZE: Final = 8.2
_PAGE: Final = re.compile(rb"/Type /Page\b")
#: Of the scale that a height asks for: lines get fewer as well as lower.
_HEIGHT_BY_SCALE: Final = 0.9
_ISSUER_SHARE: Final = 0.56  # of the header's width; the rest is the paper's name and number


@dataclass(frozen=True, slots=True)
class Masthead:
    """What stands around the story on each page.

    ``issuer_lines`` are printed on the first page only; ``banner`` on every page, boxed, above
    the story and again in the footer. ``language`` is a BCP 47 tag, for who hears the paper read;
    ``page_words`` has ``{number}`` and ``{count}``.
    """

    paper_name: str
    number: str
    issuer: str
    issuer_lines: tuple[str, ...]
    dated: str
    subject: str
    banner: str = ""
    language: str = "en-US"
    page_words: str = "Page {number} of {count}"


def render(masthead: Masthead, story: Sequence[Flowable]) -> bytes:
    """The paper as PDF bytes. Story flowables are used up: build them anew for each call."""
    buffer = io.BytesIO()
    document = BaseDocTemplate(
        buffer,
        pagesize=styles.PAGE_SIZE,
        title=plain(f"{masthead.paper_name} {masthead.number}"),
        author=plain(masthead.issuer),
        subject=plain(masthead.subject),
        creator="Blendshop",
        producer="Blendshop",
        lang=masthead.language,
        displayDocTitle=True,
        initialFontName=REGULAR,
        invariant=1,
    )
    document.addPageTemplates(
        [
            _page_template("first", masthead, with_issuer_lines=True),
            _page_template("later", masthead, with_issuer_lines=False),
        ]
    )
    document.build(
        [NextPageTemplate("later"), *story],
        canvasmaker=partial(_CountingCanvas, masthead=masthead),
    )
    return buffer.getvalue()


def height_of(
    story: Sequence[Flowable],
    width: float,
    *,
    at_most: float = math.inf,
    set_smaller: Sequence[Flowable] = (),
) -> float:
    """How tall a story stands, in points; measured, which is quicker than drawn.

    Above ``at_most`` it is not measured to its end. With the same story ``set_smaller`` and
    measured in the same width: how tall at least, by the lines that one's paragraphs take.

    A ``KeepTogether`` has no height before it is drawn: put what belongs together into a table.
    """
    canvas, height, below = Canvas(io.BytesIO()), 0.0, 0.0
    for flowable, smaller in zip_longest(story, set_smaller):
        if isinstance(flowable, Indenter):
            width -= flowable.left + flowable.right
            continue
        if isinstance(smaller, SetOnce) and isinstance(flowable, SetOnce):
            own = flowable.least_height(smaller)
        else:
            _, own = flowable.wrapOn(canvas, width, styles.PAGE_SIZE[1])
        above = flowable.getSpaceBefore() if height else 0.0
        height += max(above, below) + own
        below = flowable.getSpaceAfter()
        if height > at_most:
            break
    return height


class EndsOnPage(ActionFlowable):
    """Stands behind a part of a story and notes on which page it ended; takes no room."""

    page: int | None = None

    def apply(self, document: BaseDocTemplate) -> None:
        self.page = document.page


def largest_that_fits(
    scales: Sequence[float],
    story_at: Callable[[float], list[Flowable]],
    width: float,
    room: float,
) -> tuple[int, dict[float, list[Flowable]]]:
    """The place of the first of falling ``scales`` whose story fits; their number if none does.

    With the stories made on the way; the one that fits is measured. Most fit at the first. Else
    the height, which falls about as the scale does, says where to look. Text in smaller type takes
    no more lines (the words of each line still fit into it) of less height, so what fits at one
    scale fits at every smaller one, and the lines of one that fits mostly show that the next
    larger does not.
    """
    made: dict[float, list[Flowable]] = {}
    place, first, last = 0, 0, len(scales)
    while first < last:
        story = made[scales[place]] = story_at(scales[place])
        fitting = made[scales[last]] if last < len(scales) else []
        height = height_of(story, width, set_smaller=fitting) if fitting else 0.0
        if height <= room:
            height = height_of(story, width)
        first, last = (first, place) if height <= room else (place + 1, last)
        wanted = scales[place] * (room / height) ** _HEIGHT_BY_SCALE
        nearest = sum(scale > wanted for scale in scales)
        place = min(max(nearest, first), last - 1)
    return first, made


def first_page_room(masthead: Masthead) -> float:
    """How tall a story may stand on the paper's first page, in points."""
    header = _header(masthead, with_issuer_lines=True)
    return _header_bottom(header) - styles.HEADER_GAP - styles.BOTTOM_MARGIN


def fits_first_page(masthead: Masthead, story: Sequence[Flowable]) -> bool:
    """Whether a story of ``height_of`` ends on the paper's first page."""
    room = first_page_room(masthead)
    return height_of(story, styles.CONTENT_WIDTH, at_most=room) <= room


def page_count(pdf: bytes) -> int:
    """How many pages a paper of ``render`` has."""
    return len(_PAGE.findall(pdf))


def _page_template(
    template_id: str, masthead: Masthead, *, with_issuer_lines: bool
) -> PageTemplate:
    """A page whose frame starts below its own header, however tall a long name makes it."""
    page_width, _ = styles.PAGE_SIZE
    header = _header(masthead, with_issuer_lines=with_issuer_lines)
    header_bottom = _header_bottom(header)
    frame = Frame(
        styles.SIDE_MARGIN,
        styles.BOTTOM_MARGIN,
        page_width - 2 * styles.SIDE_MARGIN,
        header_bottom - styles.HEADER_GAP - styles.BOTTOM_MARGIN,
        leftPadding=0,
        rightPadding=0,
        topPadding=0,
        bottomPadding=0,
    )

    def draw_header(canvas: Canvas, _document: BaseDocTemplate) -> None:
        header.drawOn(canvas, styles.SIDE_MARGIN, header_bottom)

    return PageTemplate(template_id, [frame], onPage=draw_header)


def _header_bottom(header: Table) -> float:
    """Where a header ends, in points above the foot of the page."""
    _, page_height = styles.PAGE_SIZE
    _, header_height = header.wrap(styles.CONTENT_WIDTH, page_height)
    return page_height - styles.TOP_MARGIN - float(header_height)


def _header(masthead: Masthead, *, with_issuer_lines: bool) -> Table:
    issuer: list[Flowable] = [Paragraph(markup(masthead.issuer), styles.ISSUER)]
    if with_issuer_lines:
        issuer += [Paragraph(markup(line), styles.SMALL) for line in masthead.issuer_lines]
    paper: list[Flowable] = [
        Paragraph(markup(masthead.paper_name), styles.PAPER_NAME),
        Paragraph(exact(masthead.number), styles.PAPER_NUMBER),
    ]
    if with_issuer_lines:
        paper.append(Paragraph(markup(masthead.dated), styles.PAPER_NUMBER))
    left = styles.CONTENT_WIDTH * _ISSUER_SHARE
    rows: list[list[Any]] = [[issuer, paper]]
    heights: list[float | None] = [None]
    commands: list[tuple[Any, ...]] = [
        ("FONTNAME", (0, 0), (-1, -1), REGULAR),
        ("VALIGN", (0, 0), (-1, 0), "TOP"),
        ("LEFTPADDING", (0, 0), (-1, 0), 0),
        ("RIGHTPADDING", (0, 0), (-1, 0), 0),
        ("TOPPADDING", (0, 0), (-1, 0), 0),
        ("BOTTOMPADDING", (0, 0), (-1, 0), 4),
        ("LINEBELOW", (0, 0), (-1, 0), styles.RULE, styles.INK),
    ]
    if masthead.banner:
        rows += [["", ""], [Paragraph(markup(masthead.banner), styles.BANNER), ""]]
        heights += [styles.SMALL_GAP, None]
        commands += [
            ("SPAN", (0, 2), (-1, 2)),
            ("BOX", (0, 2), (-1, 2), styles.HEAVY_RULE, styles.INK),
            ("BACKGROUND", (0, 2), (-1, 2), styles.TINT),
            ("TOPPADDING", (0, 2), (-1, 2), 4),
            ("BOTTOMPADDING", (0, 2), (-1, 2), 7),
        ]
    widths = [left, styles.CONTENT_WIDTH - left]
    return Table(rows, colWidths=widths, rowHeights=heights, style=commands)


class _CountingCanvas(Canvas):
    """Holds every page back until the last is known, then writes the footers."""

    def __init__(self, *args: Any, masthead: Masthead, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self._masthead = masthead
        self._held_pages: list[dict[str, Any]] = []

    def showPage(self) -> None:  # noqa: N802 - ReportLab's name
        self._held_pages.append(dict(self.__dict__))
        self._startPage()  # type: ignore[attr-defined]  # the stubs leave it out

    def save(self) -> None:
        count = len(self._held_pages)
        for number, page in enumerate(self._held_pages, start=1):
            self.__dict__.update(page)
            self._draw_footer(number, count)
            super().showPage()
        super().save()

    def _draw_footer(self, number: int, count: int) -> None:
        masthead, y = self._masthead, styles.FOOTER_HEIGHT
        right = styles.PAGE_SIZE[0] - styles.SIDE_MARGIN
        self.setLineWidth(styles.HAIRLINE)
        self.line(styles.SIDE_MARGIN, y + 11, right, y + 11)
        page_text = masthead.page_words.format(number=number, count=count)
        room = styles.CONTENT_WIDTH - text_width(page_text, REGULAR, _FOOTER_SIZE) - 12
        text = plain(f"{masthead.paper_name} {masthead.number} · {masthead.issuer}")
        font = REGULAR
        if masthead.banner:
            text, font = plain(f"{masthead.banner} · {masthead.number}"), BOLD
        self.setFont(font, _FOOTER_SIZE)
        self.drawString(styles.SIDE_MARGIN, y, _shortened(text, font, room))
        self.setFont(REGULAR, _FOOTER_SIZE)
        self.drawRightString(right, y, page_text)


def _shortened(text: str, font: str, room: float) -> str:
    """Footer text is one line; what does not fit ends in an ellipsis (it stands in the header)."""
    if text_width(text, font, _FOOTER_SIZE) <= room:
        return text
    while text and text_width(f"{text}…", font, _FOOTER_SIZE) > room:
        text = text[:-1]
    return f"{text}…"
