"""By when something can be made and released, with the orders and loads that are open."""

from datetime import date

import pytest

from orders.models import Batch, ClosedDay, Order, OrderLine, Package, PlantProfile, Tank
from orders.planning.actions.planning import plan_batches
from orders.planning.backlog import WantedBlend
from orders.planning.due_dates import read_due_dates
from tests.factories import CompatibilityRuleFactory, TankFactory, in_days
from tests.orders.planning.plant_cases import placed_order

MONDAY = date(2026, 3, 2)
HALF_SLOW = {"UAN": 50.0, "TRZ": 50.0}
IRON = {"FES": 40.0, "WATER": 60.0}


@pytest.fixture
def ten_loads(revision, rep, company):
    """Forty totes, four a load, two loads a day; the lead time is no more than a day."""
    PlantProfile.objects.update(lead_time_working_days=1)
    return placed_order(rep, company, quantity=40, revision=revision)


def totes(quantity, shares_pct=HALF_SLOW):
    return WantedBlend(Package.objects.get(code="tote-265"), quantity, shares_pct)


def test_a_free_plant_promises_its_lead_time(shop):
    due = read_due_dates(MONDAY).of([totes(4)])
    assert (due.made_on, due.released_on) == (date(2026, 3, 3), date(2026, 3, 4))
    assert due.due_on == due.usual_on == date(2026, 3, 11)
    assert not due.is_later_than_usual


def test_a_wish_waits_for_every_load_that_is_ordered(ten_loads):
    # Ten loads are five days, the eleventh is made on the sixth, Tuesday; a day to release.
    dates = read_due_dates(MONDAY)
    due = dates.of([totes(4)])
    assert (due.made_on, due.due_on) == (date(2026, 3, 10), date(2026, 3, 11))
    assert due.is_later_than_usual
    # Nine totes are three loads: two on the sixth day, the third on the seventh.
    assert dates.of([totes(9)]).made_on == date(2026, 3, 11)
    assert dates.of_orders == {ten_loads.pk: date(2026, 3, 10)}


def test_closed_days_and_the_days_of_release_move_it(ten_loads):
    ClosedDay.objects.create(day=date(2026, 3, 5), why="holiday")
    PlantProfile.objects.update(release_working_days=2)
    due = read_due_dates(MONDAY).of([totes(4)])
    assert (due.made_on, due.due_on) == (date(2026, 3, 11), date(2026, 3, 13))


def test_a_second_tank_has_it_made_sooner(ten_loads):
    TankFactory(name="Tank 2")
    # Twenty-two half days of two tanks: ten loads and the wish's are done on the third day.
    assert read_due_dates(MONDAY).of([totes(4)]).made_on == date(2026, 3, 5)


def test_what_must_not_meet_costs_a_flush(ten_loads):
    harmless = read_due_dates(MONDAY).of([totes(4, IRON)])
    CompatibilityRuleFactory(trait_a__code="nitrate", trait_b__code="unchelated_iron")
    PlantProfile.objects.update(minutes_a_flush=300)
    # Ten loads end with the fifth day; a flush and a load take 540 of the 480 minutes of the sixth.
    flushed = read_due_dates(MONDAY).of([totes(4, IRON)])
    assert (harmless.made_on, flushed.made_on) == (date(2026, 3, 10), date(2026, 3, 11))


def test_planned_loads_stand_for_their_lines_and_made_ones_take_no_more_days(
    ten_loads, plant_worker
):
    before = read_due_dates(MONDAY)
    plan_batches(order=ten_loads, tank=Tank.objects.get(), acting_user=plant_worker)
    planned = read_due_dates(MONDAY)
    assert planned.of([totes(4)]) == before.of([totes(4)])
    assert planned.of_orders == before.of_orders
    Batch.objects.update(status=Batch.Status.MADE)
    made = read_due_dates(MONDAY)
    assert made.of([totes(4)]).made_on == date(2026, 3, 3)
    assert made.of_orders == {ten_loads.pk: date(2026, 3, 3)}  # a day to release
    Batch.objects.update(status=Batch.Status.RELEASED)
    assert read_due_dates(MONDAY).of_orders == {}


def test_the_order_that_is_due_first_is_made_first(ten_loads, revision, rep, company):
    urgent = placed_order(rep, company, quantity=4, revision=revision)
    Order.objects.filter(pk=ten_loads.pk).update(due_on=in_days(60))
    Order.objects.filter(pk=urgent.pk).update(due_on=in_days(1))
    dates = read_due_dates(MONDAY).of_orders
    assert dates[urgent.pk] == date(2026, 3, 4)
    assert dates[ten_loads.pk] == date(2026, 3, 11)


def test_a_later_order_of_the_same_recipe_makes_nobody_wait(ten_loads, revision, rep, company):
    before = read_due_dates(MONDAY).of_orders
    later = placed_order(rep, company, quantity=2, revision=revision)
    assert later.due_on > ten_loads.due_on
    after = read_due_dates(MONDAY).of_orders
    assert after == before | {later.pk: date(2026, 3, 11)}


def test_more_open_lines_ask_no_more_queries(ten_loads, django_assert_max_num_queries):
    line = ten_loads.lines.get()
    counts = []
    for more in (1, 20):
        for _ in range(more):
            copy = Order.objects.get(pk=ten_loads.pk)
            copy.pk, copy.number = None, f"O{Order.objects.count()}"
            copy.save()
            again = OrderLine.objects.get(pk=line.pk)
            again.pk, again.order = None, copy
            again.save()
        with django_assert_max_num_queries(16) as queries:
            assert read_due_dates(MONDAY).of([totes(4)])
        counts.append(len(queries))
    assert counts[0] == counts[1]
