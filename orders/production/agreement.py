"""Orders that hold less than their customer agreed to: they do not leave until somebody has."""

from __future__ import annotations

from collections.abc import Iterable

from django.utils.translation import gettext as _

from orders.models import Batch, BatchPart, Order
from orders.production.made_record import made_records
from orders.production.sold_as import SoldAs, sold_as


def not_agreed(order: Order) -> list[SoldAs]:
    """The parts of an order that hold less than was promised, with nobody's word for it."""
    parts = (
        BatchPart.objects.filter(order_line__order=order, batch__status=Batch.Status.RELEASED)
        .prefetch_related("batch__lowered_promises", "label_changes")
        .order_by("pk")
    )
    records = made_records(part.batch for part in parts)
    found = (sold_as(records[part.batch_id], part) for part in parts)
    return [sold for sold in found if sold.needs_agreement]


def not_agreed_words(parts: Iterable[SoldAs]) -> str:
    """What is missing and where it is written down, a sentence a batch; empty when nothing is."""
    return " ".join(_words(sold) for sold in parts)


def _words(sold: SoldAs) -> str:
    said = {"batch": sold.part.batch.number, "grade": sold.grade, "agreed": sold.agreed_grade}
    less = _("%(batch)s is %(grade)s, not %(agreed)s") % said
    if sold.grade == sold.agreed_grade:
        less = _("%(batch)s holds less of a guarantee than was promised") % said
    return _(
        "%(less)s, and no customer's agreement is written down. Ask the customer; then a formulator"
        " writes down who agreed on the charging page of %(batch)s, under “Best it can be sold as”."
    ) % (said | {"less": less})
