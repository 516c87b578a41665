"""A made batch and everything that is said of it: papers, pages, tables."""

import re
from dataclasses import dataclass, field
from decimal import Decimal

from django.urls import reverse
from django.utils import timezone

from orders.labels.actions import issue_label_draft, issue_label_placard, issue_small_label
from orders.models import Order
from orders.ordering.actions import mark_shipped
from orders.papers.actions import (
    issue_batch_record,
    issue_certificate,
    issue_package_labels,
    issue_packing_list,
)
from orders.production.actions.batches import mark_made, release_batch
from orders.production.actions.corrections import accept_lower_promise
from orders.production.actions.packaging import fill_packages
from orders.production.sold_as_it_stands import as_it_stands
from tests.orders.labels.approvals import approve_labels
from tests.orders.labels.label_cases import text_of
from tests.orders.production.charging_cases import charge_all, lots_of, new_key, read_density

LABELS = ("letter", "placard", "small")


@dataclass
class Said:
    """What stands where, one space between words; ``views`` has what papers were drawn from."""

    texts: dict[str, str] = field(default_factory=dict)
    views: dict[str, dict] = field(default_factory=dict)

    def paper(self, name, paper):
        self.views[name] = paper.snapshot
        self.texts[name] = " ".join(text_of(bytes(paper.pdf)).split())


def made(batch, by, **off_lb):
    """Charged from lots of its own, off its plan by these pounds, and mixed."""
    lots = lots_of(batch, by)
    charge_all(batch, lots, by, off_lb=off_lb)
    mark_made(batch=batch, acting_user=by)
    batch.refresh_from_db()
    return lots


def released(batch, formulator, **reading):
    """Read in the middle of its window, or as told, and let go, whatever is in the way."""
    read_density(batch, formulator, **reading)
    release_batch(
        batch=batch, acting_user=formulator, why="tank 4 valve leaked", reading_is_wrong=None
    )
    batch.refresh_from_db()


def filled(batch, by, *net_lb):
    return fill_packages(
        part=batch.parts.get(), net_lb=[Decimal(each) for each in net_lb], key=new_key(),
        acting_user=by,
    )  # fmt: skip


def agreed(batch, formulator, agreed_with="Casey Owner, by phone"):
    return accept_lower_promise(
        batch=batch, seen=as_it_stands(batch).offer.digest, agreed_with=agreed_with,
        why="valve stuck open", key=new_key(), acting_user=formulator,
    )  # fmt: skip


def order_of(batch):
    return Order.objects.get(lines__parts__batch=batch)


def shipped(batch, by, why=""):
    """With its label approved."""
    order = order_of(batch)
    approve_labels(order)
    mark_shipped(order=order, acting_user=by, why=why)


def said_of(batch, by, client):
    """Every paper of the batch's part, the pages and the tables; the order has shipped."""
    said, part, order = Said(), batch.parts.get(), order_of(batch)
    said.paper("certificate", issue_certificate(part=part, acting_user=by))
    said.paper("record", issue_batch_record(batch=batch, acting_user=by))
    said.paper("packing list", issue_packing_list(order=order, acting_user=by))
    said.paper("package labels", issue_package_labels(batch=batch, acting_user=by))
    for name, issue in zip(
        LABELS, (issue_label_draft, issue_label_placard, issue_small_label), strict=True
    ):
        said.paper(name, issue(part=part, acting_user=by))
    today = timezone.localdate().isoformat()
    period = {"state": part.consignment.ship_to.state, "first": today, "last": today}
    for name, url, asked in (
        ("order", reverse("order_detail", args=[order.number]), {}),
        ("trace", reverse("trace"), {"q": batch.number}),
        ("trace table", reverse("trace_csv"), {"q": batch.number}),
        ("trace values", reverse("trace_json"), {"q": batch.number}),
        ("tons", reverse("tonnage"), period),
        ("tons table", reverse("tonnage_csv"), period),
    ):
        html = client.get(url, asked).content.decode("utf-8-sig")
        said.texts[name] = re.sub(r"\s+", " ", re.sub("<[^>]+>", " ", html))
    return said
