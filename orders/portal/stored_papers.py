"""Whether stored papers still are what was issued: their bytes, and their snapshot redrawn."""

import hashlib
from collections.abc import Callable
from typing import Final

from blendshop.snapshot import Snapshot
from orders.labels.draft_pdf import render_label_draft
from orders.labels.sheets import render_label_placard, render_label_small
from orders.labels.view_models import LabelDraftView
from orders.models import Paper
from orders.papers.batch_record_pdf import render_batch_record
from orders.papers.batch_ticket_pdf import render_batch_ticket
from orders.papers.certificate_pdf import render_certificate
from orders.papers.package_labels_pdf import render_package_labels
from orders.papers.packing_list_pdf import render_packing_list
from orders.papers.pick_list_pdf import render_pick_list
from orders.papers.plant_view_models import (
    BatchRecordView,
    CertificateView,
    PackageLabelsView,
    PackingListView,
    PickListView,
)
from orders.papers.view_models import BatchTicketView
from orders.quoting.quote_pdf import render_quote
from orders.quoting.view_models import QuoteView
from orders.recall.letter_pdf import render_recall_letter
from orders.recall.letter_view import RecallLetterView
from orders.records.written import writing

#: How each kind of paper is restored from its snapshot and drawn.
DRAWN_BY: Final[dict[str, tuple[type[Snapshot], Callable[..., bytes]]]] = {
    Paper.Kind.QUOTE: (QuoteView, render_quote),
    Paper.Kind.BATCH_TICKET: (BatchTicketView, render_batch_ticket),
    Paper.Kind.LABEL_DRAFT: (LabelDraftView, render_label_draft),
    Paper.Kind.LABEL_PLACARD: (LabelDraftView, render_label_placard),
    Paper.Kind.LABEL_SMALL: (LabelDraftView, render_label_small),
    Paper.Kind.PICK_LIST: (PickListView, render_pick_list),
    Paper.Kind.BATCH_RECORD: (BatchRecordView, render_batch_record),
    Paper.Kind.CERTIFICATE: (CertificateView, render_certificate),
    Paper.Kind.PACKAGE_LABELS: (PackageLabelsView, render_package_labels),
    Paper.Kind.PACKING_LIST: (PackingListView, render_packing_list),
    Paper.Kind.RECALL_LETTER: (RecallLetterView, render_recall_letter),
}


def differences(paper: Paper) -> list[str]:
    """What is wrong with a stored paper, in words; empty when it is as it was issued."""
    found = []
    stored = bytes(paper.pdf)
    if hashlib.sha256(stored).hexdigest() != paper.sha256:
        found.append("the stored bytes do not match their digest")
    view_model, render = DRAWN_BY[paper.kind]
    try:
        with writing(None):
            drawn = render(view_model.from_json(paper.snapshot))
    except ValueError as error:
        return [*found, f"the snapshot cannot be drawn: {error}"]
    if drawn != stored:
        found.append("drawing the snapshot again gives other bytes")
    return found
