"""Issue papers: the snapshot, the PDF drawn from it and its digest, written once.

Asked for again, an unchanged record gives the stored paper back, byte for byte. If what would
be printed has changed (a new address of the plant, say), a new paper is issued that names the
one it replaces.
"""

import hashlib
from collections.abc import Callable
from typing import Any, Final, TypeVar

from django.db import transaction

from blendshop.accounts.models import User
from blendshop.errors import IllegalMove
from blendshop.roles import STAFF, Role, require_role
from blendshop.snapshot import Snapshot, SnapshotError
from orders.labels.draft_pdf import render_label_draft
from orders.labels.sheets import render_label_placard, render_label_small
from orders.labels.view import label_draft_view
from orders.models import Batch, BatchPart, Order, Paper, Quote
from orders.papers.batch_record_pdf import render_batch_record
from orders.papers.batch_ticket_pdf import render_batch_ticket
from orders.papers.certificate_pdf import render_certificate
from orders.papers.gather import batch_ticket_view, quote_view
from orders.papers.gather_plant import (
    batch_record_view,
    certificate_view,
    package_labels_view,
    packing_list_view,
    pick_list_view,
)
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
from orders.papers.view_models import BatchTicketView, LabelDraftView, QuoteView
from orders.quoting.quote_pdf import render_quote

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
}
#: The column of a paper that names its record.
_OWNER: Final[dict[type, str]] = {
    Quote: "quote",
    Batch: "batch",
    BatchPart: "part",
    Order: "order",
}

R = TypeVar("R", bound=Batch | BatchPart)


def issue_quote_paper(
    *, quote: Quote, acting_user: User | None, accept_url: str | None = None
) -> Paper:
    """The quote as a PDF. ``acting_user`` is None for a reader who came by the signed link.

    A signed link differs each time it is made, so it is given once, when the quote is sent;
    without ``accept_url`` the newest paper's own link is kept, and the paper with it.
    """
    if acting_user is not None:
        require_role(acting_user, Role.CUSTOMER, Role.REP, Role.OFFICE, Role.FORMULATOR)
    if accept_url is None:
        newest = quote.papers.order_by("-pk").first()
        accept_url = QuoteView.from_json(newest.snapshot).accept_url if newest else ""
    return _issue(Paper.Kind.QUOTE, quote, quote_view(quote, accept_url=accept_url), acting_user)


def issue_batch_ticket(*, batch: Batch, acting_user: User) -> Paper:
    """The ticket the plant weighs from."""
    require_role(acting_user, *STAFF)
    return _issue_unless_cancelled(Paper.Kind.BATCH_TICKET, batch, batch_ticket_view, acting_user)


def issue_label_draft(*, part: BatchPart, acting_user: User) -> Paper:
    """The label draft of a part of the load; a draft for review, never a registered label."""
    require_role(acting_user, *STAFF)
    return _issue_unless_cancelled(Paper.Kind.LABEL_DRAFT, part, label_draft_view, acting_user)


def issue_label_placard(*, part: BatchPart, acting_user: User) -> Paper:
    """The same label as a tote placard."""
    require_role(acting_user, *STAFF)
    return _issue_unless_cancelled(Paper.Kind.LABEL_PLACARD, part, label_draft_view, acting_user)


def issue_small_label(*, part: BatchPart, acting_user: User) -> Paper:
    """The same label on 4 by 6 inches."""
    require_role(acting_user, *STAFF)
    return _issue_unless_cancelled(Paper.Kind.LABEL_SMALL, part, label_draft_view, acting_user)


def issue_pick_list(*, batch: Batch, acting_user: User) -> Paper:
    """What is still to be charged, and from which lots."""
    require_role(acting_user, *STAFF)
    return _issue_unless_cancelled(Paper.Kind.PICK_LIST, batch, pick_list_view, acting_user)


def issue_batch_record(*, batch: Batch, acting_user: User) -> Paper:
    """Plan against actual as it stands; issued anew when something was added."""
    require_role(acting_user, *STAFF)
    return _issue(Paper.Kind.BATCH_RECORD, batch, batch_record_view(batch), acting_user)


def issue_certificate(*, part: BatchPart, acting_user: User) -> Paper:
    """The certificate of analysis of a released batch, for the customer of the part."""
    require_role(acting_user, *STAFF)
    return _issue_unless_cancelled(Paper.Kind.CERTIFICATE, part, certificate_view, acting_user)


def issue_package_labels(*, batch: Batch, acting_user: User) -> Paper:
    """A scannable label for each filled package."""
    require_role(acting_user, *STAFF)
    return _issue_unless_cancelled(
        Paper.Kind.PACKAGE_LABELS, batch, package_labels_view, acting_user
    )


def issue_packing_list(*, order: Order, acting_user: User) -> Paper:
    """The filled packages of an order with their weights and cautions."""
    require_role(acting_user, *STAFF)
    return _issue(Paper.Kind.PACKING_LIST, order, packing_list_view(order), acting_user)


def _issue_unless_cancelled(
    kind: Paper.Kind, record: R, gather: Callable[[R], Snapshot], acting_user: User
) -> Paper:
    batch = record if isinstance(record, Batch) else record.batch
    if batch.status == Batch.Status.CANCELLED:
        # What was printed for a load that is no longer made stays readable, nothing new is.
        stored = record.papers.filter(kind=kind).order_by("-pk").first()
        if stored is None:
            raise IllegalMove(f"{batch.number} is cancelled; no {kind.label} is issued for it.")
        paper: Paper = stored
        return paper
    return _issue(kind, record, gather(record), acting_user)


def _issue(
    kind: Paper.Kind,
    record: Quote | Batch | BatchPart | Order,
    view: Snapshot,
    acting_user: User | None,
) -> Paper:
    snapshot = view.to_json()
    view_model, render = DRAWN_BY[kind]
    with transaction.atomic():
        # Two clicks at once: the second waits here and then finds the first one's paper.
        type(record).objects.select_for_update().get(pk=record.pk)
        newest: Paper | None = record.papers.filter(kind=kind).order_by("-pk").first()
        if newest is not None and _in_newest_shape(newest, view_model) == snapshot:
            return newest
        pdf = render(view)
        issued: Paper = Paper.objects.create(
            kind=kind,
            replaces=newest,
            snapshot=snapshot,
            pdf=pdf,
            sha256=hashlib.sha256(pdf).hexdigest(),
            issued_by=acting_user,
            **{_OWNER[type(record)]: record},
        )
        return issued


def _in_newest_shape(paper: Paper, view_model: type[Snapshot]) -> dict[str, Any] | None:
    """The stored snapshot as it would be written today; None if it cannot be read."""
    try:
        return view_model.from_json(paper.snapshot).to_json()
    except SnapshotError:
        return None


def differences(paper: Paper) -> list[str]:
    """What is wrong with a stored paper, in words; empty when it is as it was issued."""
    found = []
    stored = bytes(paper.pdf)
    if hashlib.sha256(stored).hexdigest() != paper.sha256:
        found.append("the stored bytes do not match their digest")
    view_model, render = DRAWN_BY[paper.kind]
    try:
        drawn = render(view_model.from_json(paper.snapshot))
    except ValueError as error:
        return [*found, f"the snapshot cannot be drawn: {error}"]
    if drawn != stored:
        found.append("drawing the snapshot again gives other bytes")
    return found
