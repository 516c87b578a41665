"""Labels that wait for approval: of every planned or made load that has not left."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date

from blendshop.accounts.models import User
from orders.labels.standing import LabelState, labels_not_approved
from orders.models import BatchPart, Order


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


def waiting_labels(user: User) -> list[WaitingLabel]:
    """Parts that one approval would settle stand together, by their earliest due date."""
    here = (Order.Status.OPEN, Order.Status.PLANNED, Order.Status.MADE)
    parts = (
        BatchPart.objects.visible_to(user)
        .live()
        .filter(order_line__order__status__in=here)
        .with_label()
        .order_by("order_line__order__due_on", "pk")
    )
    found: dict[tuple[object, ...], list[LabelState]] = {}
    for state in labels_not_approved(parts):
        line, to = state.part.order_line, state.part.consignment.ship_to.state
        key = (line.revision_id, to, line.package_id, state.now.fingerprint, state.forbids)
        found.setdefault(key, []).append(state)
    return [WaitingLabel(tuple(states)) for states in found.values()]
