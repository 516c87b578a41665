"""Labels from a roll: one to a page of the label's own size, each in the largest type that fits.

The type is never below what is read at arm's length; a label that needs more room says so and which
size to take.
"""

from __future__ import annotations

import io
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from typing import Final

from django.utils.translation import gettext as _
from reportlab.lib.units import inch, mm
from reportlab.platypus import BaseDocTemplate, Flowable, Frame, PageBreak, PageTemplate

from blendshop.documents import flowables, styles
from blendshop.documents.document import height_of
from blendshop.documents.fonts import REGULAR
from blendshop.documents.text import plain
from blendshop.errors import BadInput

_SCALES: Final = (1.0, 0.9, 0.8, 0.7, 0.6, 0.5)


@dataclass(frozen=True, slots=True)
class LabelStock:
    """A size of label, in points; ``larger`` is where to go when it is too small.

    A low one sets everything beside its QR code.
    """

    name: str
    size: tuple[float, float]
    margin: float
    largest_pt: float
    qr_side: float
    bar_height: float
    larger: str
    is_low: bool = False

    @property
    def width(self) -> float:
        """Width of what is printed."""
        return self.size[0] - 2 * self.margin

    @property
    def height(self) -> float:
        """Height of what is printed."""
        return self.size[1] - 2 * self.margin


#: Usual sizes of a roll for label printers (common practice, no source).
STOCKS: Final[Mapping[str, LabelStock]] = {
    "4x6": LabelStock(
        name="4 × 6 in",
        size=(4 * inch, 6 * inch),
        margin=4 * mm,
        largest_pt=26.0,
        qr_side=42 * mm,
        bar_height=20 * mm,
        larger="letter pages",
    ),
    "4x2": LabelStock(
        name="4 × 2 in",
        size=(4 * inch, 2 * inch),
        margin=2.5 * mm,
        largest_pt=18.0,
        qr_side=19 * mm,
        bar_height=8 * mm,
        larger="the 4 × 6 in label",
        is_low=True,
    ),
}


def chosen_stock(key: str) -> LabelStock | None:
    """The size of label that was chosen; None for letter pages. BadInput for one not known."""
    if key and key not in STOCKS:
        sizes = ", ".join(stock.name for stock in STOCKS.values())
        raise BadInput(_("Choose one of the sizes of label: %(sizes)s.") % {"sizes": sizes})
    return STOCKS.get(key)


#: A label's flowables at a scale of its stock's largest type.
Drawn = Callable[[float], list[Flowable]]


def render_on_stock(
    stock: LabelStock, labels: Sequence[Drawn], *, title: str, author: str, subject: str
) -> bytes:
    """A page for each label as PDF bytes; the same labels give the same bytes."""
    buffer = io.BytesIO()
    document = BaseDocTemplate(
        buffer,
        pagesize=stock.size,
        title=plain(title),
        author=plain(author),
        subject=plain(subject),
        creator="Blendshop",
        producer="Blendshop",
        lang="en-US",
        displayDocTitle=True,
        initialFontName=REGULAR,
        invariant=1,
    )
    frame = Frame(
        stock.margin,
        stock.margin,
        stock.width,
        stock.height,
        leftPadding=0,
        rightPadding=0,
        topPadding=0,
        bottomPadding=0,
    )
    document.addPageTemplates([PageTemplate("label", [frame])])
    story: list[Flowable] = []
    for label in labels:
        story += [*_fitted(stock, label), PageBreak()]
    document.build(story)
    return buffer.getvalue()


def _fitted(stock: LabelStock, label: Drawn) -> list[Flowable]:
    for scale in _SCALES:
        if height_of(label(scale), stock.width) <= stock.height:
            return label(scale)
    words = (
        f"This label does not fit {stock.name} in type that is read at arm's length"
        f" ({styles.LEAST_LABEL_PT:g} points at least). Take {stock.larger} instead."
    )
    return [flowables.prose(words, styles.TICKET_BOLD)]
