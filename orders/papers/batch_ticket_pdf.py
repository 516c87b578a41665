"""The batch ticket: a first page to charge from, and behind it what is read before charging.

The front is one page wherever it can be: set as large as it fits, never below what can be written
in. Only a load too long for that runs on. No field of ``BatchTicketView`` holds a price.
"""

from __future__ import annotations

from dataclasses import replace

from reportlab.platypus import Flowable, PageBreak

from blendshop.documents.document import Masthead, fits_first_page, page_count, render
from blendshop.figures.readers import house
from orders.papers import ticket_back_pdf, ticket_front_pdf
from orders.papers.ticket_front_pdf import FrontType
from orders.papers.view_models import BatchTicketView
from orders.records import letterhead


def render_batch_ticket(view: BatchTicketView) -> bytes:
    """The batch ticket as a PDF. The same view gives the same bytes."""
    masthead = letterhead.masthead(
        view.plant,
        "Batch ticket",
        view.number,
        _dated(view),
        f"Batch ticket for {view.product_name}",
    )
    # The plant knows where it is; the room is for the weights.
    masthead = replace(masthead, issuer_lines=())
    kind, pages = _best_type(masthead, view)
    story: list[Flowable] = [
        *ticket_front_pdf.front(view, kind, back_page=pages + 1),
        PageBreak(),
        *ticket_back_pdf.back(view),
    ]
    return render(masthead, story)


def _dated(view: BatchTicketView) -> str:
    if view.due_on is None:  # a ticket of before the due date stood on it
        return f"Planned {house().date(view.planned_on)}"
    return f"Due {house().date(view.due_on)}"


def _best_type(masthead: Masthead, view: BatchTicketView) -> tuple[FrontType, int]:
    """The largest type that keeps the front on one page, else the smallest, and its pages."""
    for kind in ticket_front_pdf.TYPES:
        if fits_first_page(masthead, ticket_front_pdf.front(view, kind, back_page=2)):
            return kind, 1
    kind = ticket_front_pdf.TYPES[-1]
    return kind, page_count(render(masthead, ticket_front_pdf.front(view, kind, back_page=2)))
