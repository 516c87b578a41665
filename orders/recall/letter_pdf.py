"""The recall letter: what of theirs is called back, and what to do with it."""

from __future__ import annotations

from typing import Final

from reportlab.platypus import Flowable, Table

from blendshop.documents import flowables, styles
from blendshop.documents.document import render
from blendshop.figures.readers import house
from orders.papers import wording
from orders.recall.letter_view import RecallLetterView, amount_words
from orders.records import letterhead

_WIDTH: Final = styles.CONTENT_WIDTH
_BANNER: Final = "Recall: stop using this product"


def render_recall_letter(view: RecallLetterView) -> bytes:
    """The letter as a PDF. The same view gives the same bytes."""
    masthead = letterhead.masthead(
        view.plant,
        "Recall letter",
        view.number,
        house().date(view.dated),
        f"Recall {view.number} for {view.customer.name}",
        banner=_BANNER,
    )
    reach = " or ".join(part for part in (view.plant.phone, view.plant.email) if part)
    call = f"Reach us at {reach}." if reach else ""
    instructions = [*view.what_to_do[:-1], " ".join(filter(None, [view.what_to_do[-1], call]))]
    story: list[Flowable] = [
        flowables.prose(letterhead.address(view.customer)),
        flowables.gap(styles.SECTION_GAP),
        flowables.prose(view.reason),
        *flowables.section("What to do", flowables.numbered(instructions)),
        *flowables.section("What was shipped to you", [_goods(view)]),
        *flowables.section("Cautions", flowables.bullets(view.cautions, styles.SMALL)),
        flowables.gap(),
        flowables.prose(wording.DEFERENCE, styles.SMALL_ITALIC),
    ]
    return render(masthead, story)


def _goods(view: RecallLetterView) -> Table:
    headings = ("Product and batch", "Packages and serials", "Order", "Shipped")
    rows = [
        [
            [
                flowables.prose(f"{each.product_name} {each.grade}", styles.BODY_BOLD),
                flowables.verbatim(f"Batch {each.batch_number}"),
            ],
            flowables.verbatim(amount_words(each)),
            flowables.verbatim(each.order_number),
            flowables.prose(house().date(each.shipped_on)),
        ]
        for each in view.goods
    ]
    shares = (0.3, 0.38, 0.14, 0.18)
    header = [flowables.prose(heading, styles.CAPTION) for heading in headings]
    return flowables.ruled_table(header, rows, [_WIDTH * share for share in shares])
