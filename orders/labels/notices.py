"""What formulators are told of labels: that they wait for approval."""

from __future__ import annotations

from typing import Final

from django.db import transaction
from django.urls import reverse
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy

from blendshop.figures.readers import house
from blendshop.notices.actions import Cause, people_of, tell
from blendshop.notices.kinds import Kind, register
from blendshop.notices.models import How
from blendshop.roles import Role
from orders.labels.waiting import WaitingLabel, parts_not_left, waiting_labels
from orders.models import BatchPart

APPROVAL_ASKED: Final = register(
    Kind(
        "label_approval",
        gettext_lazy("Label to approve"),
        frozenset({Role.FORMULATOR}),
        {Role.FORMULATOR: How.DAILY},
        many=gettext_lazy("{count} labels wait for approval: {names}"),
        many_link="labels_waiting",
    )
)


def tell_waiting_labels() -> None:
    """Formulators, once of each label: what it says, for which state and package.

    Whether one is approved shows only once it is drafted, so it is looked at once a day.
    """
    waiting = waiting_labels(parts_not_left(BatchPart.objects.all()))
    causes = [_cause(each) for each in waiting]
    with transaction.atomic():
        tell(APPROVAL_ASKED, people_of(Role.FORMULATOR), *causes, by=None)


def _cause(waiting: WaitingLabel) -> Cause:
    part = waiting.first.part
    line, to = part.order_line, part.consignment.ship_to.state
    text = _("The label of {blend} for {state} waits for approval; {batch} is due {day}.").format(
        blend=line.revision.blend.name,
        state=to,
        batch=part.batch.number,
        day=house().date(waiting.due_on),
    )
    says = waiting.first.now.fingerprint[:24]
    return Cause(
        key=f"{line.revision_id}:{to}:{line.package_id}:{says}",
        name=f"{part.batch.number} ({to})",
        text=text,
        link=reverse("label_detail", args=[part.batch.number, part.position]),
        about=("batch", part.batch.number),
    )
