"""Labels approved as a formulator approves them, for tests of what comes after."""

from blendshop.accounts.models import User
from blendshop.roles import Role
from orders.labels.actions import approve_label
from orders.labels.standing import label_state
from orders.models import BatchPart, LabelApproval, Order
from tests.factories import UserFactory


def label_reader() -> User:
    """A formulator of its own."""
    found: User = UserFactory(name="Lee Label", role=Role.FORMULATOR)
    return found


def approve(part: BatchPart, by: User | None = None, *, note: str = "") -> LabelApproval:
    """The label of a part as it stands, with every tick."""
    state = label_state(part)
    return approve_label(
        part=part,
        acting_user=by or label_reader(),
        seen=state.now.fingerprint,
        confirmed=tuple(state.confirms),
        note=note,
    )


def approve_labels(order: Order, by: User | None = None) -> None:
    """The labels of everything that is made or planned for an order."""
    by = by or label_reader()
    for part in BatchPart.objects.filter(order_line__order=order).live():
        approve(part, by)
