"""Labels approved as a formulator approves them, for tests of what comes after."""

from django.urls import reverse

from blendshop.accounts.models import User
from blendshop.roles import Role
from orders.labels.actions import approve_label
from orders.labels.standing import label_state
from orders.models import BatchPart, LabelApproval, Order, Tank
from orders.planning.actions.planning import plan_batches
from tests.factories import UserFactory
from tests.orders.labels.room_cases import with_room
from tests.orders.planning.plant_cases import placed_order


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


def label_url(part: BatchPart) -> str:
    return reverse("label_detail", args=[part.batch.number, part.position])


def planned_again(order: Order, by, **more) -> BatchPart:
    """The next load of the revision; to the same ship-to, in the same package unless said."""
    line = order.lines.get()
    asked = {"revision": line.revision, "ship_to": order.ship_to, "package": line.package}
    later = placed_order(by, order.company, **({"quantity": 1} | asked | more))
    (batch,) = plan_batches(order=later, tank=Tank.objects.get(), acting_user=by)
    return with_room(batch).parts.get()
