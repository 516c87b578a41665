"""Issue papers: the snapshot, the PDF drawn from it and its digest, written once.

Asked for again, an unchanged record gives the stored paper back, byte for byte. If what would
be printed has changed (a new address of the plant, say), a new paper is issued that names the
one it replaces.
"""

import hashlib
from collections.abc import Callable
from functools import partial
from typing import Any, Final, TypeVar

from django.db import transaction

from blendshop.accounts.models import User
from blendshop.documents.label_stock import chosen_stock
from blendshop.errors import IllegalMove
from blendshop.roles import STAFF, require_role
from blendshop.snapshot import Snapshot, SnapshotError
from orders.models import Batch, BatchPart, Order, Paper, Quote, RecallCustomer
from orders.papers.batch_record_pdf import render_batch_record
from orders.papers.batch_ticket_pdf import render_batch_ticket
from orders.papers.certificate_pdf import render_certificate
from orders.papers.gather import batch_ticket_view
from orders.papers.gather_batch_record import batch_record_view
from orders.papers.gather_certificate import certificate_view
from orders.papers.gather_package_labels import package_labels_view
from orders.papers.gather_packing_list import packing_list_view
from orders.papers.gather_pick_list import pick_list_view
from orders.papers.package_labels_pdf import render_package_labels
from orders.papers.packing_list_pdf import render_packing_list
from orders.papers.pick_list_pdf import render_pick_list
from orders.planning.recipe_review import require_reviewed
from orders.records.written import writing

#: The column of a paper that names its record.
_OWNER: Final[dict[type, str]] = {
    Quote: "quote",
    Batch: "batch",
    BatchPart: "part",
    Order: "order",
    RecallCustomer: "recall_customer",
}

R = TypeVar("R", bound=Batch | BatchPart)
V = TypeVar("V", bound=Snapshot)


def issue_batch_ticket(*, batch: Batch, acting_user: User) -> Paper:
    """The ticket the plant weighs from; none while the load may not be begun."""
    require_role(acting_user, *STAFF)
    require_reviewed(batch)
    return issue_unless_cancelled(
        Paper.Kind.BATCH_TICKET, batch, batch_ticket_view, render_batch_ticket, acting_user
    )


def issue_pick_list(*, batch: Batch, acting_user: User) -> Paper:
    """What is still to be charged, and from which lots; none while the load may not be begun."""
    require_role(acting_user, *STAFF)
    require_reviewed(batch)
    return issue_unless_cancelled(
        Paper.Kind.PICK_LIST, batch, pick_list_view, render_pick_list, acting_user
    )


def issue_batch_record(*, batch: Batch, acting_user: User) -> Paper:
    """Plan against actual as it stands; issued anew when something was added."""
    require_role(acting_user, *STAFF)
    return issue_paper(
        Paper.Kind.BATCH_RECORD, batch, batch_record_view(batch), render_batch_record, acting_user
    )


def issue_certificate(*, part: BatchPart, acting_user: User) -> Paper:
    """The certificate of analysis of a released batch, for the customer of the part."""
    require_role(acting_user, *STAFF)
    return issue_unless_cancelled(
        Paper.Kind.CERTIFICATE, part, certificate_view, render_certificate, acting_user
    )


def issue_package_labels(*, batch: Batch, acting_user: User, stock: str = "") -> Paper:
    """A scannable label for each filled package, on a size of label or on letter pages."""
    require_role(acting_user, *STAFF)
    chosen_stock(stock)
    return issue_unless_cancelled(
        Paper.Kind.PACKAGE_LABELS,
        batch,
        partial(package_labels_view, stock=stock),
        render_package_labels,
        acting_user,
    )


def issue_packing_list(*, order: Order, acting_user: User) -> Paper:
    """The filled packages of an order with their weights and cautions."""
    require_role(acting_user, *STAFF)
    return issue_paper(
        Paper.Kind.PACKING_LIST, order, packing_list_view(order), render_packing_list, acting_user
    )


def issue_unless_cancelled(
    kind: Paper.Kind,
    record: R,
    gather: Callable[[R], V],
    render: Callable[[V], bytes],
    acting_user: User,
) -> Paper:
    """The paper of a load or of a part; of a cancelled one only what was issued before."""
    batch = record if isinstance(record, Batch) else record.batch
    if batch.status == Batch.Status.CANCELLED:
        # What was printed for a load that is no longer made stays readable, nothing new is.
        stored = record.papers.filter(kind=kind).order_by("-pk").first()
        if stored is None:
            raise IllegalMove(f"{batch.number} is cancelled; no {kind.label} is issued for it.")
        paper: Paper = stored
        return paper
    return issue_paper(kind, record, gather(record), render, acting_user)


def issue_paper(
    kind: Paper.Kind,
    record: Quote | Batch | BatchPart | Order | RecallCustomer,
    view: V,
    render: Callable[[V], bytes],
    acting_user: User | None,
) -> Paper:
    """The stored paper while ``view`` prints the same; else a new one drawn by ``render``."""
    snapshot = view.to_json()
    with transaction.atomic():
        # Two clicks at once: the second waits here and then finds the first one's paper.
        type(record).objects.select_for_update().get(pk=record.pk)
        newest: Paper | None = record.papers.filter(kind=kind).order_by("-pk").first()
        if newest is not None and _in_newest_shape(newest, type(view)) == snapshot:
            return newest
        with writing(None):  # but for what a customer's record says of itself
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
