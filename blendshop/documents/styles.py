"""Sizes and named text styles of all papers; every layout number of the base is here.

Black on white with grey only as a tint behind black text, so a photocopy loses nothing.
"""

from __future__ import annotations

from typing import Any, Final

from reportlab.lib.colors import Color, black
from reportlab.lib.enums import TA_CENTER, TA_RIGHT
from reportlab.lib.pagesizes import LETTER
from reportlab.lib.styles import ParagraphStyle
from reportlab.lib.units import mm

from blendshop.documents.fonts import BOLD, ITALIC, REGULAR

PAGE_SIZE: Final = LETTER
SIDE_MARGIN: Final = 16 * mm
TOP_MARGIN: Final = 13 * mm
BOTTOM_MARGIN: Final = 19 * mm
HEADER_GAP: Final = 5 * mm
FOOTER_HEIGHT: Final = 11 * mm
CONTENT_WIDTH: Final = PAGE_SIZE[0] - 2 * SIDE_MARGIN

CELL_PADDING: Final = 1.2 * mm
SECTION_GAP: Final = 4.5 * mm
SMALL_GAP: Final = 2 * mm
GUTTER: Final = 4 * mm
WRITING_HEIGHT: Final = 11.5 * mm  # room for a gloved hand
READING_HEIGHT: Final = 8.5 * mm  # a third of an inch, for one figure
BOX_PADDING: Final = 2 * mm
HAIRLINE: Final = 0.5
RULE: Final = 1.0
HEAVY_RULE: Final = 2.2

INK: Final = black
TINT: Final = Color(0.92, 0.92, 0.92)
FAINT_LINE: Final = Color(0.55, 0.55, 0.55)


#: The least type of a label, read at arm's length (24 in): a capital of 0.003 rad there is read by
#: more than nine in ten (Smith, Letter Size and Legibility, Human Factors 21(6), 1979, abstract),
#: and this family's capitals are 0.66 of the type's size: 0.003 * 24 * 72 / 0.66 = 7.9 points.
LEAST_LABEL_PT: Final = 7.9


def _style(name: str, size: float, **options: Any) -> ParagraphStyle:
    """A style with the embedded font everywhere, the bullet's font included."""
    font = str(options.pop("fontName", REGULAR))
    defaults: dict[str, Any] = {
        "fontName": font,
        "bulletFontName": font,
        "fontSize": size,
        "leading": round(size * 1.27, 2),
        "textColor": INK,
        "splitLongWords": 1,
        "allowWidows": 0,
        "allowOrphans": 0,
    }
    return ParagraphStyle(name, **(defaults | options))


BODY: Final = _style("body", 9.5)
BODY_BOLD: Final = _style("body-bold", 9.5, fontName=BOLD)
BODY_RIGHT: Final = _style("body-right", 9.5, alignment=TA_RIGHT)
BODY_BOLD_RIGHT: Final = _style("body-bold-right", 9.5, fontName=BOLD, alignment=TA_RIGHT)
SMALL: Final = _style("small", 8.2)
SMALL_ITALIC: Final = _style("small-italic", 8.2, fontName=ITALIC)
CAPTION: Final = _style("caption", 8.2, fontName=BOLD)
CAPTION_RIGHT: Final = _style("caption-right", 8.2, fontName=BOLD, alignment=TA_RIGHT)
CENTERED_SMALL: Final = _style("centered-small", 8.2, alignment=TA_CENTER)
HEADING: Final = _style("heading", 11.5, fontName=BOLD, spaceBefore=SECTION_GAP, spaceAfter=3)
TITLE: Final = _style("title", 19, fontName=BOLD, leading=22)
ISSUER: Final = _style("issuer", 13, fontName=BOLD)
PAPER_NAME: Final = _style("paper-name", 17, fontName=BOLD, alignment=TA_RIGHT)
PAPER_NUMBER: Final = _style("paper-number", 11, alignment=TA_RIGHT)
BANNER: Final = _style("banner", 13, fontName=BOLD, alignment=TA_CENTER)

# The batch ticket is read at arm's length, on a clipboard, through goggles.
TICKET: Final = _style("ticket", 11)
TICKET_BOLD: Final = _style("ticket-bold", 11, fontName=BOLD)
TICKET_HEADING: Final = _style(
    "ticket-heading", 13.5, fontName=BOLD, spaceBefore=SECTION_GAP, spaceAfter=3
)
TICKET_STOCK: Final = _style("ticket-stock", 12, fontName=BOLD)
TICKET_WEIGHT: Final = _style("ticket-weight", 16, fontName=BOLD, alignment=TA_RIGHT)
TICKET_WITHIN: Final = _style("ticket-within", 12, alignment=TA_RIGHT)
TICKET_RUNNING: Final = _style("ticket-running", 13, alignment=TA_RIGHT)
TICKET_LOT: Final = _style("ticket-lot", 8.6, fontName=BOLD, leading=10)
TICKET_CAUTION: Final = _style("ticket-caution", 10, fontName=BOLD, alignment=TA_CENTER)
TICKET_STEP: Final = _style("ticket-step", 14, fontName=BOLD, alignment=TA_CENTER)
