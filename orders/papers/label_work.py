"""Labels of a load of very many packages are drawn by a worker."""

from __future__ import annotations

import hashlib
import json
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any, Final

from django.urls import reverse
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy, ngettext

from blendshop.accounts.models import User
from blendshop.errors import BadInput
from blendshop.figures.readers import reader
from blendshop.long_work.actions.beginning import begin, standing
from blendshop.long_work.kinds import Assignment, Kind, Outcome, register
from blendshop.long_work.models import LongWork
from blendshop.roles import STAFF
from orders.models import Batch
from orders.papers.actions import issue_package_labels
from orders.papers.gather_package_labels import package_labels_view

#: So many labels are drawn while one waits.
MOST_LABELS_AT_ONCE: Final = 40


def _issue(assignment: Assignment, number: int) -> int:
    asked = assignment.arguments
    batch = Batch.objects.filter(number=asked["batch"]).first()
    if batch is None:
        raise BadInput(_("There is no batch {number}.").format(number=asked["batch"]))
    paper = issue_package_labels(batch=batch, acting_user=assignment.asker(), stock=asked["stock"])
    key: int = paper.pk
    return key


def _keep(assignment: Assignment, answers: Sequence[Any]) -> Outcome:
    said = _("The package labels of {number} are drawn.")
    return Outcome(
        says=said.format(number=assignment.arguments["batch"]), result={"paper": answers[0]}
    )


PACKAGE_LABELS: Final = register(
    Kind(
        name="package-labels",
        title=gettext_lazy("Package labels"),
        roles=STAFF,
        part=_issue,
        combine=_keep,
        is_shared=True,
        leads_to=lambda work: reverse("paper", args=[work.result["paper"]]),
        begun_at="batch_list",
    )
)


@dataclass(frozen=True, slots=True)
class ManyLabels:
    """More labels of a batch than are drawn while one waits; ``prints`` is a digest of them."""

    batch: Batch
    stock: str
    count: int
    prints: str

    @property
    def words(self) -> str:
        """What there is to draw."""
        said = ngettext(
            "Batch %(number)s has %(count)s package label.",
            "Batch %(number)s has %(count)s package labels.",
            self.count,
        )
        return said % {"number": self.batch.number, "count": reader().number(self.count, 0)}

    @property
    def same_as(self) -> str:
        return f"{self.batch.number} {self.prints}"


def many_labels(batch: Batch, stock: str) -> ManyLabels | None:
    """What a worker has to draw; None for a few labels."""
    if batch.status == Batch.Status.CANCELLED:
        return None
    view = package_labels_view(batch, stock)
    if len(view.packages) <= MOST_LABELS_AT_ONCE:
        return None
    prints = json.dumps(view.to_json(), sort_keys=True)
    digest = hashlib.sha256(prints.encode()).hexdigest()
    return ManyLabels(batch, stock, len(view.packages), digest)


def labels_under_way(labels: ManyLabels, acting_user: User) -> LongWork | None:
    """The work of drawing them that is open or done, while it would print the same."""
    return standing(PACKAGE_LABELS, asked_by=acting_user, same_as=labels.same_as)


def begin_labels(labels: ManyLabels, acting_user: User) -> LongWork:
    """The work of drawing them, joined while it would print the same."""
    return begin(
        PACKAGE_LABELS,
        asked_by=acting_user,
        arguments={"batch": labels.batch.number, "stock": labels.stock},
        same_as=labels.same_as,
    )
