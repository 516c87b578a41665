"""What is left undone is named with what is left of it, from the first weight to the shipping."""

from datetime import timedelta

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext
from django.utils import timezone

from orders.inventory.actions.lot_quality import hold_lot
from orders.models import Batch, Order
from orders.planning.actions.planning import plan_batches
from orders.production.actions.batches import mark_made, release_batch
from orders.production.actions.charging import charge_lot
from orders.production.actions.packaging import fill_packages
from orders.production.actions.quality import set_aside_reading
from orders.production.steps import batch_steps
from orders.shift.due import due_orders
from orders.shift.short import short_stocks
from orders.shift.tanks_today import begun_batches, tanks_today
from orders.shift.undone import left_undone
from tests.orders.planning.plant_cases import placed_order
from tests.orders.production.charging_cases import (
    charge_all,
    charged_and_made,
    new_key,
    read_density,
)
from tests.orders.tanks.tank_cases import another, make_and_fill


def undone():
    begun = begun_batches()
    return [
        (each.kind.value, each.of, each.words)
        for each in left_undone(begun, tanks_today(begun), [])
    ]


def weigh_first(batch, lots, by):
    first, *_others = batch_steps(batch)
    charge_lot(
        batch=batch,
        step=first.number,
        lot=lots.get(first.code),
        mass_lb=first.target_lb,
        key=new_key(),
        acting_user=by,
    )
    batch.refresh_from_db()
    return first


def test_a_batch_nobody_began_is_planned_and_not_left_undone(batch):
    assert undone() == []
    (tank,) = tanks_today([])
    assert tank.next.batch == batch
    assert tank.begun is None


def test_a_begun_batch_names_the_stocks_to_come_and_who_weighed_last(batch, lots, plant_worker):
    weigh_first(batch, lots, plant_worker)
    steps = batch_steps(batch)
    ((kind, of, words),) = undone()
    assert (kind, of) == ("charge", batch.number)
    assert words.startswith(f"{len(steps) - 1} of {len(steps)} stocks not charged:")
    assert all(step.name in words for step in steps[1:])
    assert steps[0].name not in words
    assert "Last weight by Pat Plant" in words


def test_its_tank_shows_the_step_it_is_at(batch, lots, plant_worker):
    weigh_first(batch, lots, plant_worker)
    (tank,) = tanks_today(begun_batches())
    assert (tank.begun.done, tank.begun.now.number) == (1, 2)
    assert tank.begun.last.who == "Pat Plant"
    assert tank.next is None


def test_the_last_weight_is_told_by_the_clock_it_was_taken_at(batch, lots, plant_worker):
    first = batch_steps(batch)[0]
    taken = timezone.now() - timedelta(hours=3)
    charge_lot(
        batch=batch,
        step=first.number,
        lot=lots.get(first.code),
        mass_lb=first.target_lb,
        key=new_key(),
        acting_user=plant_worker,
        weighed_at=taken,
    )
    (begun,) = begun_batches()
    assert begun.last_at == taken


def test_a_batch_with_everything_in_is_to_be_said_mixed_then_read_then_released(
    batch, lots, plant_worker
):
    charge_all(batch, lots, plant_worker)
    assert "nobody has said that it is mixed" in undone()[0][2]
    mark_made(batch=batch, acting_user=plant_worker)
    assert undone() == [("read", batch.number, "Mixed; no density and pH read.")]
    batch.refresh_from_db()
    read_density(batch, plant_worker)
    assert undone() == [("release", batch.number, "Read, not released.")]


def test_a_reading_set_aside_leaves_the_batch_unread(batch, plant_worker, formulator):
    charged_and_made(batch, plant_worker)
    reading = read_density(batch, plant_worker, appearance="layers")
    assert undone()[0][2] == "Held: a formulator decides."
    set_aside_reading(reading=reading, why="jar", key=new_key(), acting_user=formulator)
    assert undone()[0][0] == "read"


def test_a_lot_on_hold_is_told_with_its_batch(batch, lots, plant_worker):
    charge_all(batch, lots, plant_worker)
    mark_made(batch=batch, acting_user=plant_worker)
    hold_lot(lot=lots["UAN"], why="crystals", acting_user=plant_worker)
    assert "is on hold: crystals." in undone()[0][2]


def test_a_released_batch_is_to_be_filled_then_closed_and_its_order_shipped(batch, plant_worker):
    charged_and_made(batch, plant_worker)
    read_density(batch, plant_worker)
    release_batch(batch=batch, acting_user=plant_worker)
    order = Order.objects.get()
    fill, ship = undone()
    assert fill == ("fill", batch.number, "Released; 0 of 2 packages filled.")
    assert ship[:2] == ("ship", order.number)
    due = f"{order.due_on:%a, %b} {order.due_on.day}"
    assert ship[2].endswith(f", due {due}: made, not shipped.")
    part = batch.parts.get()
    fill_packages(part=part, net_lb=[2800], key=new_key(), acting_user=plant_worker)
    assert "1 of 2 packages filled" in undone()[0][2]
    fill_packages(part=part, net_lb=[2800], key=new_key(), acting_user=plant_worker)
    assert undone()[0][0] == "close"


def test_a_closed_batch_is_done(revision, rep, company, plant_worker):
    batch = another(rep, company, plant_worker, revision)
    make_and_fill(batch, plant_worker, heel_lb=20)
    assert [kind for kind, _of, _words in undone()] == ["ship"]


def test_a_number_of_batches_changes_no_number_of_queries(
    batch, rep, company, revision, plant_worker
):
    def queries():
        with CaptureQueriesContext(connection) as found:
            left_undone([], [], [])
        return len(found)

    Batch.objects.filter(pk=batch.pk).update(status=Batch.Status.MADE)
    one = queries()
    more = another(rep, company, plant_worker, revision)
    Batch.objects.filter(pk=more.pk).update(status=Batch.Status.MADE)
    assert queries() == one


# --- Due and short -------------------------------------------------------------------------------
@pytest.mark.parametrize(
    ("days", "where"), [(-1, "late"), (0, "today"), (1, "tomorrow"), (2, "nowhere")]
)
def test_orders_stand_by_their_due_date(order, plant_worker, days, where):
    today = timezone.localdate()
    Order.objects.update(due_on=today + timedelta(days=days))
    due = due_orders(plant_worker, today)
    found = {"late": due.late, "today": due.today, "tomorrow": due.tomorrow}
    assert {name for name, group in found.items() if group.count} == {where} - {"nowhere"}
    assert due.any == (where != "nowhere")
    Order.objects.update(status=Order.Status.SHIPPED)
    assert not due_orders(plant_worker, today).any


def test_what_open_orders_want_more_of_than_there_is_is_short(batch, lots, rep, company, revision):
    assert not short_stocks([], [batch], timezone.localdate()).any
    placed_order(rep, company, revision=revision, quantity=90)
    names = {buy.stock.code for buy in short_stocks([], [batch], timezone.localdate()).purchases}
    assert "TRZ" in names


def test_a_planned_lot_that_went_on_hold_is_named_until_it_is_charged(
    order, lots, batch, rep, company, revision, plant_worker
):
    later = placed_order(rep, company, revision=revision, quantity=1)
    (planned,) = plan_batches(order=later, tank=batch.tank, acting_user=plant_worker)
    held = lots["UAN"]
    assert not short_stocks([], [planned], timezone.localdate()).lots
    hold_lot(lot=held, why="crystals", acting_user=plant_worker)
    (gone,) = short_stocks([], [planned], timezone.localdate()).lots
    assert (gone.batch, gone.lot) == (planned, held.code)
    assert gone.stock == "urea ammonium nitrate solution"
