"""The recall letter: what of theirs is called back, and what to do with it."""

from __future__ import annotations

from typing import Final

from django.utils.translation import gettext as _
from reportlab.platypus import Flowable, Table

from blendshop.documents import flowables, styles
from blendshop.documents.document import render
from blendshop.figures.readers import reader
from orders.papers import wording
from orders.recall.letter_view import RecallLetterView, amount_words
from orders.records import letterhead
from orders.records.written import writing

_WIDTH: Final = styles.CONTENT_WIDTH


def render_recall_letter(view: RecallLetterView) -> bytes:
    """The letter as a PDF. The same view gives the same bytes."""
    with writing(view.written):
        return _render(view)


def _render(view: RecallLetterView) -> bytes:
    masthead = letterhead.customers_masthead(
        view.plant,
        _("Recall letter"),
        view.number,
        reader().date(view.dated),
        _("Recall {number} for {customer}").format(number=view.number, customer=view.customer.name),
        banner=_("Recall: stop using this product"),
    )
    call = _reach(view.plant)
    instructions = [*view.what_to_do[:-1], " ".join(filter(None, [view.what_to_do[-1], call]))]
    story: list[Flowable] = [
        flowables.prose(letterhead.address(view.customer)),
        flowables.gap(styles.SECTION_GAP),
        flowables.prose(view.reason),
        *flowables.section(_("What to do"), flowables.numbered(instructions)),
        *flowables.section(_("What was shipped to you"), [_goods(view)]),
        *flowables.section(_("Cautions"), flowables.bullets(view.cautions, styles.SMALL)),
        flowables.gap(),
        *(
            flowables.prose(each, styles.SMALL_ITALIC)
            for each in (wording.deference(), *wording.translated(view.written))
        ),
    ]
    return render(masthead, story)


def _reach(plant: letterhead.Plant) -> str:
    if plant.phone and plant.email:
        words = _("Reach us at {phone} or {email}.")
    elif plant.phone or plant.email:
        words = _("Reach us at {where}.")
    else:
        return ""
    return words.format(phone=plant.phone, email=plant.email, where=plant.phone or plant.email)


def _goods(view: RecallLetterView) -> Table:
    headings = (_("Product and batch"), _("Packages and serials"), _("Order"), _("Shipped"))
    rows = [
        [
            [
                flowables.prose(f"{each.product_name} {each.grade}", styles.BODY_BOLD),
                flowables.verbatim(_("Batch {number}").format(number=each.batch_number)),
            ],
            flowables.verbatim(amount_words(each)),
            flowables.verbatim(each.order_number),
            flowables.prose(reader().date(each.shipped_on)),
        ]
        for each in view.goods
    ]
    shares = (0.3, 0.38, 0.14, 0.18)
    header = [flowables.prose(heading, styles.CAPTION) for heading in headings]
    return flowables.ruled_table(header, rows, [_WIDTH * share for share in shares])
