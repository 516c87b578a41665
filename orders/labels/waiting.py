"""Labels that wait for approval: of every planned or made load that has not left."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date
from typing import Final

from blendshop.accounts.models import User
from orders.labels.standing import LabelState, labels_not_approved
from orders.models import BatchPart, Order
from orders.models.batch import BatchPartQuerySet

_URGENT: Final = ("order_line__order__due_on", "pk")


@dataclass(frozen=True, slots=True)
class WaitingLabel:
    """One label to approve, and everything that waits for it; the most urgent part first."""

    states: tuple[LabelState, ...]

    @property
    def first(self) -> LabelState:
        return self.states[0]

    @property
    def due_on(self) -> date:
        return self.first.part.order_line.order.due_on


def labels_here(user: User) -> BatchPartQuerySet:
    """The parts of planned or made loads that have not left, the most urgent first."""
    return parts_not_left(BatchPart.objects.visible_to(user))


def parts_not_left(parts: BatchPartQuerySet) -> BatchPartQuerySet:
    """Those of ``parts`` whose loads stand and have not left, the most urgent first."""
    here = (Order.Status.OPEN, Order.Status.PLANNED, Order.Status.MADE)
    return parts.live().filter(order_line__order__status__in=here).order_by(*_URGENT)


def waiting_labels(parts: BatchPartQuerySet) -> list[WaitingLabel]:
    """Those not approved; parts that one approval would settle stand together, by due date.

    Whether a label stands approved shows only once it is drafted, so the caller asks of some.
    """
    found: dict[tuple[object, ...], list[LabelState]] = {}
    for state in labels_not_approved(parts.with_label().order_by(*_URGENT)):
        line, to = state.part.order_line, state.part.consignment.ship_to.state
        key = (line.revision_id, to, line.package_id, state.now.fingerprint, state.forbids)
        found.setdefault(key, []).append(state)
    return [WaitingLabel(tuple(states)) for states in found.values()]
