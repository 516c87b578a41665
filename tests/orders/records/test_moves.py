"""The whole square of states of orders and batches: allowed moves work, all others are refused."""

from itertools import product

import pytest
from django.db import transaction

from blendshop.errors import ChangedMeanwhile, IllegalMove, NotAllowed
from blendshop.outbox.models import Mail
from orders.models import Batch, Order, Tank
from orders.ordering.actions import cancel_order, mark_shipped
from orders.planning.actions.planning import plan_batches
from orders.production.actions.batches import cancel_batch, mark_made, release_batch
from orders.records.moves import move
from tests.orders.production.charging_cases import charge_all, lots_of, read_density

ORDER_PAIRS = list(product(Order.Status.values, repeat=2))
BATCH_PAIRS = list(product(Batch.Status.values, repeat=2))


def put(record, status):
    """The record as if it had got into this state; its history is another matter."""
    type(record).objects.filter(pk=record.pk).update(status=status)
    record.refresh_from_db()
    return record


def check_pair(record, old, new, user):
    put(record, old)
    events = record.events.count()
    if new in type(record).MOVES[old]:
        with transaction.atomic():
            move(record, new, acting_user=user, why="test")
        record.refresh_from_db()
        assert record.status == new
        event = record.events.last()
        assert (event.from_status, event.to_status, event.by) == (old, new, user)
        assert record.events.count() == events + 1
        return
    with pytest.raises(IllegalMove) as refused, transaction.atomic():
        move(record, new, acting_user=user, why="test")
    record.refresh_from_db()
    assert record.status == old
    assert record.events.count() == events
    assert str(record.number) in refused.value.message
    assert refused.value.message.endswith(".")


@pytest.mark.parametrize(("old", "new"), ORDER_PAIRS)
def test_an_order_moves_only_as_its_table_says(order, office, old, new):
    check_pair(order, old, new, office)


@pytest.mark.parametrize(("old", "new"), BATCH_PAIRS)
def test_a_batch_moves_only_as_its_table_says(batch, plant_worker, old, new):
    check_pair(batch, old, new, plant_worker)


@pytest.mark.parametrize("status", Order.Status.values)
@pytest.mark.parametrize("action", ["ship", "cancel", "plan"])
def test_each_order_action_works_from_its_states_and_is_refused_from_all_others(
    order, office, action, status
):
    put(order, status)
    events, mails = order.events.count(), Mail.objects.count()
    allowed = {
        "ship": {"made"},
        "cancel": {"requested", "open", "planned"},
        "plan": {"open", "planned"},
    }
    actions = {
        "ship": lambda: mark_shipped(order=order, acting_user=office),
        "cancel": lambda: cancel_order(order=order, acting_user=office, why="test"),
        "plan": lambda: plan_batches(order=order, tank=Tank.objects.get(), acting_user=office),
    }
    if status in allowed[action]:
        actions[action]()
        assert order.events.count() == events + 1
        return
    with pytest.raises(IllegalMove):
        actions[action]()
    order.refresh_from_db()
    assert order.status == status
    assert order.events.count() == events
    assert Mail.objects.count() == mails
    assert not Batch.objects.exists()


@pytest.mark.parametrize("status", Batch.Status.values)
@pytest.mark.parametrize("action", ["made", "release", "cancel"])
def test_each_batch_action_works_from_its_states_and_is_refused_from_all_others(
    batch, plant_worker, action, status
):
    put(batch, status)
    if status == "made":
        read_density(batch, plant_worker)
    events = batch.events.count()
    allowed = {
        "made": set(),  # from charging only when complete: see test_charging
        "release": {"made"},  # a held batch is the formulator's: see test_quality
        "cancel": {"planned", "charging", "made", "held"},
    }
    actions = {
        "made": lambda: mark_made(batch=batch, acting_user=plant_worker),
        "release": lambda: release_batch(batch=batch, acting_user=plant_worker),
        "cancel": lambda: cancel_batch(batch=batch, acting_user=plant_worker, why="test"),
    }
    if status in allowed[action]:
        actions[action]()
        assert batch.events.count() == events + 1
        return
    with pytest.raises((IllegalMove, NotAllowed)):
        actions[action]()
    batch.refresh_from_db()
    assert batch.status == status
    assert batch.events.count() == events


def test_the_slower_of_two_people_is_told_that_somebody_else_was_faster(batch, plant_worker):
    charge_all(batch, lots_of(batch, plant_worker), plant_worker)
    slower = Batch.objects.get(pk=batch.pk)
    mark_made(batch=batch, acting_user=plant_worker)
    with pytest.raises(ChangedMeanwhile):
        mark_made(batch=slower, acting_user=plant_worker)
    assert batch.events.filter(to_status="made").count() == 1


@pytest.mark.parametrize(
    ("action", "refused"),
    [
        ("plan", ["rep", "customer", "stranger"]),
        ("ship", ["rep", "formulator", "customer", "stranger"]),
        ("cancel", ["plant_worker", "formulator", "customer", "stranger"]),
        ("made", ["rep", "office", "customer", "stranger"]),
        ("release", ["rep", "office", "customer", "stranger"]),
        ("cancel batch", ["rep", "office", "customer", "stranger"]),
    ],
)
def test_an_action_is_for_its_roles_only(request, batch, action, refused):
    order = batch.parts.get().order_line.order
    tank = Tank.objects.get()
    actions = {
        "plan": lambda user: plan_batches(order=order, tank=tank, acting_user=user),
        "ship": lambda user: mark_shipped(order=put(order, "made"), acting_user=user),
        "cancel": lambda user: cancel_order(order=order, acting_user=user, why="test"),
        "made": lambda user: mark_made(batch=batch, acting_user=user),
        "release": lambda user: release_batch(batch=put(batch, "made"), acting_user=user),
        "cancel batch": lambda user: cancel_batch(batch=batch, acting_user=user, why="test"),
    }
    for name in refused:
        with pytest.raises(NotAllowed):
            actions[action](request.getfixturevalue(name))
