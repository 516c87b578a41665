"""What an order leaves with: labels of the state it goes to, and not changed once it has left."""

from decimal import Decimal

import pytest
from django.urls import reverse

from blendshop.errors import IllegalMove
from orders.customers.actions import change_ship_to
from orders.labels.actions import change_label
from orders.labels.standing import label_state
from orders.models import Batch, BatchPart, Order
from orders.ordering.actions import mark_shipped
from tests.orders.labels.approvals import approve_labels


@pytest.fixture
def part(batch) -> BatchPart:
    """Of a released load whose label is approved."""
    Batch.objects.update(status=Batch.Status.RELEASED)
    Order.objects.update(status=Order.Status.MADE)
    approve_labels(Order.objects.get())
    return batch.parts.get()


@pytest.fixture
def made_order(part) -> Order:
    return Order.objects.get()


def test_what_is_labelled_for_one_state_does_not_leave_for_another(
    part, made_order, office, signed_in
):
    page = reverse("order_detail", args=[made_order.number])
    assert "labelled for MD" not in signed_in(office).get(page).text
    change_ship_to(acting_user=office, ship_to=made_order.ship_to, state="NJ")
    made_order = Order.objects.get(pk=made_order.pk)
    with pytest.raises(IllegalMove, match=f"{part.batch.number} is planned and labelled for MD"):
        mark_shipped(order=made_order, acting_user=office, why="no serials here")
    told = signed_in(office).get(page).text
    assert "labelled for MD, and the address" in told
    assert "plan the order again" in told
    change_ship_to(acting_user=office, ship_to=made_order.ship_to, state="MD", county="Kent")
    mark_shipped(order=made_order, acting_user=office, why="no serials here")
    assert made_order.events.last().data["state"] == "MD"


def test_the_label_of_what_has_left_is_not_changed_by_hand(
    part, made_order, office, formulator, signed_in
):
    mark_shipped(order=made_order, acting_user=office, why="no serials here")
    part = BatchPart.objects.get(pk=part.pk)
    with pytest.raises(IllegalMove, match=f"{made_order.number} is shipped with its label"):
        change_label(
            part=part,
            acting_user=formulator,
            key="K2O",
            action="lower",
            pct=Decimal(2),
            why="Less.",
        )
    assert label_state(part).is_approved
    url = reverse("label_detail", args=[part.batch.number, part.position])
    assert signed_in(formulator).get(url).context["form"] is None
