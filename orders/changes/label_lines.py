"""Lines of labels: a guarantee lowered by hand, a label approved, an approval withdrawn."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from decimal import Decimal
from typing import Any

from django.db.models import Q, QuerySet
from django.urls import reverse
from django.utils.translation import gettext as _

from blendshop.accounts.models import User
from blendshop.figures.readers import reader
from orders.changes.lines import FieldChange, Kind, Line
from orders.changes.source import Source
from orders.models import BatchPart, LabelApproval, LabelApprovalWithdrawn, LabelChange


def label_sources() -> list[Source]:
    return [
        Source(
            key="LabelChange",
            kind=Kind.LABELS,
            rows=LabelChange.objects.all,
            when="at",
            person="by",
            of_record=lambda text: Q(part__batch__number__startswith=text.upper()),
            read=_changes,
        ),
        Source(
            key="LabelApproval",
            kind=Kind.LABELS,
            rows=lambda: LabelApproval.objects.filter(in_use_before=False),
            when="at",
            person="by",
            of_record=lambda text: (
                Q(part__batch__number__startswith=text.upper())
                | Q(revision__blend__name__icontains=text)
            ),
            read=_approvals,
        ),
        Source(
            key="LabelApprovalWithdrawn",
            kind=Kind.LABELS,
            rows=LabelApprovalWithdrawn.objects.all,
            when="at",
            person="by",
            of_record=lambda text: (
                Q(approval__part__batch__number__startswith=text.upper())
                | Q(approval__revision__blend__name__icontains=text)
            ),
            read=_withdrawals,
        ),
    ]


def _part_url(part: BatchPart) -> str:
    return reverse("label_detail", args=[part.batch.number, part.position])


def _guarantee(pct: Decimal | None) -> str:
    return _("left out") if pct is None else f"{reader().every_digit(pct)}%"


def _changes(pks: Sequence[int], user: User) -> Iterator[Line]:
    for row in LabelChange.objects.filter(pk__in=pks).select_related("part__batch"):
        number, position = row.part.batch.number, row.part.position
        yield Line(
            source="LabelChange",
            pk=row.pk,
            at=row.at,
            who=row.who,
            kind=Kind.LABELS,
            record=_("Label of {batch}, part {part}").format(batch=number, part=position),
            verb=str(row.get_action_display()),
            fields=(FieldChange(row.label, _guarantee(row.from_pct), _guarantee(row.to_pct)),),
            why=row.why,
            url=_part_url(row.part),
        )


def _approvals(pks: Sequence[int], user: User) -> Iterator[Line]:
    for row in _read_approvals().filter(pk__in=pks):
        yield Line(
            source="LabelApproval",
            pk=row.pk,
            at=row.at,
            who=row.who,
            kind=Kind.LABELS,
            record=str(row),
            verb=_("approved"),
            why=row.note,
            url=_part_url(row.part),
        )


def _withdrawals(pks: Sequence[int], user: User) -> Iterator[Line]:
    rows = list(LabelApprovalWithdrawn.objects.filter(pk__in=pks))
    approvals = _read_approvals().in_bulk([row.approval_id for row in rows])
    for row in rows:
        approval = approvals[row.approval_id]
        yield Line(
            source="LabelApprovalWithdrawn",
            pk=row.pk,
            at=row.at,
            who=row.who,
            kind=Kind.LABELS,
            record=str(approval),
            verb=_("approval withdrawn"),
            why=row.why,
            url=_part_url(approval.part),
        )


def _read_approvals() -> QuerySet[Any]:
    rows: QuerySet[Any] = LabelApproval.objects.select_related(
        "revision__blend", "package", "part__batch"
    ).defer("label", "revision__wish", "revision__answer", "part__delivery", "part__batch__plan")
    return rows
