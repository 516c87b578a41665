"""Two people at the same moment, on two real connections: one of them has done it, once."""

import contextlib
import threading
from collections.abc import Callable
from typing import Any

import pytest
from django.db import connection

from blendshop.errors import ChangedMeanwhile, DomainError
from orders.models import Batch, BatchPart, Order, Paper, PlantProfile, Tank
from orders.ordering.actions import cancel_order
from orders.papers.actions import issue_batch_ticket
from orders.planning.actions.planning import combine_batches, plan_batches, plan_together
from orders.production.actions.batches import mark_made, release_batch
from orders.quoting.actions.quotes import accept_quote
from orders.quoting.offered_date import due_if_accepted
from orders.records.moves import move
from orders.reordering.actions import confirm_reorder
from orders.reordering.sources import reorder_of_order
from tests.factories import CompanyFactory, ShipToFactory, in_days
from tests.orders.planning.plant_cases import placed_order, save_half_slow, sent_quote
from tests.orders.production.charging_cases import charge_all, lots_of, made_uncharged, read_density

pytestmark = [
    pytest.mark.postgres,
    pytest.mark.django_db(transaction=True),
    pytest.mark.skipif(connection.vendor != "postgresql", reason="needs two real connections"),
]


@pytest.fixture
def two_loads(shop, rep, company):
    return placed_order(rep, company, quantity=8)


def at_once(*actions: Callable[[], Any]) -> list[Any]:
    """What each action gave (a domain error counts as an answer), all started together."""
    start, answers = threading.Barrier(len(actions)), []

    def run(action: Callable[[], Any]) -> None:
        try:
            start.wait(timeout=10)
            answers.append(action())
        except DomainError as error:
            answers.append(error)
        finally:
            connection.close()

    threads = [threading.Thread(target=run, args=[action]) for action in actions]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    assert len(answers) == len(actions)
    return answers


def test_a_reorder_confirmed_twice_at_once_is_one_order(two_loads, customer):
    reorder = reorder_of_order(two_loads)

    def click():
        return confirm_reorder(
            reorder=reorder, acting_user=customer, seen_digest=reorder.digest, once="one"
        )

    first, second = at_once(click, click)
    assert first == second
    assert Order.objects.count() == 2


def test_an_order_planned_twice_at_once_is_planned_once(two_loads, plant_worker):
    tank = Tank.objects.get()

    def plan():
        return plan_batches(order=two_loads, tank=tank, acting_user=plant_worker)

    answers = at_once(plan, plan)
    assert sum(isinstance(answer, DomainError) for answer in answers) == 1
    assert sum(part.quantity for part in BatchPart.objects.all()) == 8


def test_a_batch_made_twice_at_once_is_made_once(two_loads, plant_worker):
    batch, _ = plan_batches(order=two_loads, tank=Tank.objects.get(), acting_user=plant_worker)
    charge_all(batch, lots_of(batch, plant_worker), plant_worker)
    copies = [Batch.objects.get(pk=batch.pk) for _ in range(2)]
    answers = at_once(*(lambda c=c: mark_made(batch=c, acting_user=plant_worker) for c in copies))
    assert sorted(type(answer) for answer in answers if answer) == [ChangedMeanwhile]
    assert batch.events.filter(to_status="made").count() == 1


def test_the_last_two_batches_released_at_once_leave_the_order_made(
    two_loads, plant_worker, monkeypatch
):
    both_moved = threading.Barrier(2)

    def move_and_wait(record, *args, **kwargs):
        move(record, *args, **kwargs)
        if isinstance(record, Batch) and args[0] == Batch.Status.RELEASED:
            # Without the lock both get here before either has looked whether it was the last;
            # with it, the other one is still waiting its turn and this one goes on alone.
            with contextlib.suppress(threading.BrokenBarrierError):
                both_moved.wait(timeout=3)

    monkeypatch.setattr("orders.production.actions.batches.move", move_and_wait)
    batches = plan_batches(order=two_loads, tank=Tank.objects.get(), acting_user=plant_worker)
    for batch in batches:
        made_uncharged(batch, plant_worker)
        read_density(batch, plant_worker)
    at_once(*(lambda b=b: release_batch(batch=b, acting_user=plant_worker) for b in batches))
    two_loads.refresh_from_db()
    assert two_loads.status == "made"


def test_a_ticket_asked_for_twice_at_once_is_issued_once(two_loads, plant_worker):
    batch, _ = plan_batches(order=two_loads, tank=Tank.objects.get(), acting_user=plant_worker)

    def issue():
        return issue_batch_ticket(batch=batch, acting_user=plant_worker)

    first, second = at_once(issue, issue)
    assert first == second
    assert Paper.objects.count() == 1


def test_two_quotes_accepted_at_once_are_dated_one_behind_the_other(
    shop, rep, company, monkeypatch
):
    PlantProfile.objects.update(lead_time_working_days=1)
    revision, ship_to = save_half_slow(rep, company), ShipToFactory(company=company)
    quotes = [sent_quote(rep, revision, ship_to, quantity=40) for _ in range(2)]
    both_dated = threading.Barrier(2)

    def date_and_wait(quote, today):
        found = due_if_accepted(quote, today)
        # Without the lock both have read the tanks before either has ordered.
        with contextlib.suppress(threading.BrokenBarrierError):
            both_dated.wait(timeout=3)
        return found

    monkeypatch.setattr("orders.quoting.actions.answers.due_if_accepted", date_and_wait)
    later = in_days(90)
    at_once(
        *(
            lambda q=q: accept_quote(quote=q, acting_user=None, name="Casey", seen_due_on=later)
            for q in quotes
        )
    )
    first, second = sorted(Order.objects.values_list("due_on", flat=True))
    # Ten loads, two a working day.
    assert (second - first).days >= 5


@pytest.fixture
def pair(shop, rep):
    """One tote each for two customers, of one blend."""
    revision = save_half_slow(rep, None)
    return [placed_order(rep, CompanyFactory(), revision=revision, quantity=1) for _ in range(2)]


def test_orders_planned_together_and_alone_at_once_are_planned_once(pair, plant_worker):
    tank = Tank.objects.get()
    lines = [order.lines.get() for order in pair]
    at_once(
        lambda: plan_together(lines=lines, tank=tank, acting_user=plant_worker),
        lambda: plan_batches(order=pair[1], tank=tank, acting_user=plant_worker),
    )
    for order in pair:
        parts = BatchPart.objects.live().filter(order_line__order=order)
        assert sum(part.quantity for part in parts) == 1


def test_a_shared_load_combined_and_one_of_its_orders_cancelled_at_once_loses_nothing(
    pair, plant_worker, office
):
    tank = Tank.objects.get()
    batches = [
        batch
        for order in pair
        for batch in plan_batches(order=order, tank=tank, acting_user=plant_worker)
    ]
    going = Order.objects.get(pk=pair[0].pk)
    at_once(
        lambda: combine_batches(batches=batches, acting_user=plant_worker),
        lambda: cancel_order(order=going, acting_user=office, why="moved away"),
    )
    stays = Order.objects.get(pk=pair[1].pk)
    planned = BatchPart.objects.live().filter(order_line__order=stays)
    assert stays.status == ("planned" if planned.exists() else "open")
    gone = Order.objects.get(pk=pair[0].pk)
    if gone.status == "cancelled":
        assert not BatchPart.objects.live().filter(order_line__order=gone).exists()
