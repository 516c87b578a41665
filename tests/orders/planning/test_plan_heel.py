"""What is in the tank enters the plan once and at no cost, or the plan asks for a flush."""

import random
from dataclasses import replace

import pytest
from django.urls import reverse

from formulas.models import BaseStock
from orders.models import Batch, Tank
from orders.papers.actions import issue_batch_ticket
from orders.planning.actions.planning import plan_batches
from orders.production.actions.batches import release_batch
from orders.tanks.actions.looking import Found, Looked, look_and_sign
from tests.factories import (
    BaseStockFactory,
    CompatibilityRuleFactory,
    TankFactory,
    TraitFactory,
)
from tests.orders.planning.on_target import missed, text_of
from tests.orders.planning.plant_cases import WISH, placed_order, save_half_slow
from tests.orders.production.charging_cases import charged_and_made, drained, new_key, read_density

UREA_LEFT = {"N.urea": 20.0}


@pytest.fixture
def tank(shop):
    return Tank.objects.get()


@pytest.fixture
def signed(tank, plant_worker):
    """``signed(15, {"N.urea": 12})`` signs so many gallons of something else into the tank."""

    def look(gal, analysis, found=Found.OTHER):
        looked = Looked(found)
        if found is Found.OTHER:
            looked = Looked(
                found, volume_gal=gal, product="rinse of before", density_lb_per_gal=9.5,
                analysis=analysis,
            )  # fmt: skip
        look_and_sign(tank=tank, looked=looked, key=new_key(), acting_user=plant_worker)

    return look


@pytest.fixture
def plan(shop, rep, company, plant_worker, tank):
    saved = {}

    def planned(wish=WISH, name="Half slow summer", quantity=2):
        if name not in saved:
            saved[name] = save_half_slow(rep, company, name, wish)
        order = placed_order(rep, company, revision=saved[name], quantity=quantity)
        (batch,) = plan_batches(order=order, tank=tank, acting_user=plant_worker)
        return batch

    return planned


def made(batch, by):
    charged_and_made(batch, by)
    read_density(batch, by)
    release_batch(batch=batch, acting_user=by)
    batch.refresh_from_db()


def test_a_heel_is_counted_once_in_mass_volume_and_analysis_and_costs_nothing(
    plan, plant_worker, tank
):
    first = plan()
    empty = first.load_plan
    made(first, plant_worker)
    drained(tank, plant_worker, heel_gal=30)
    onto = plan().load_plan
    heel = onto.heel
    assert heel.volume_gal == pytest.approx(30)
    assert heel.batches == (first.number,)
    assert onto.mass_lb == pytest.approx(onto.charged_lb + heel.mass_lb, abs=1e-4)
    charged_gal = sum(step.volume_gal for step in onto.steps)
    assert onto.volume_gal == pytest.approx(charged_gal + heel.volume_gal, abs=0.01)
    assert onto.volume_gal == pytest.approx(empty.volume_gal, rel=0.002), "the same full tank"
    assert onto.charged_lb < empty.charged_lb - 0.9 * heel.mass_lb
    # The same blend at 30 gal less of 530: so much less is paid for.
    ratio = float(onto.cost_per_gal / empty.cost_per_gal)
    assert ratio == pytest.approx(1 - 30 / 530, abs=0.004)
    assert missed(onto, random.Random(1)) == []  # noqa: S311


def test_a_load_is_planned_onto_the_batch_that_is_planned_before_it(plan):
    """A tank with a batch waiting for it will not be found as it is today."""
    first, second = plan(), plan()
    assert first.load_plan.heel is None
    heel = second.load_plan.heel
    assert heel.batches == (first.number,)
    assert heel.volume_gal == pytest.approx(12.0), "1 % of 1,200 gal"
    assert "It is counted in these weights." in second.load_plan.cleanout.instruction


def test_ticket_and_page_say_how_much_is_in_the_tank_already(plan, plant_worker, signed_in):
    plan()
    batch = plan()
    heel = batch.load_plan.heel
    told = f"of it {heel.mass_lb:,.1f} lb in the tank already"
    assert told in text_of(issue_batch_ticket(batch=batch, acting_user=plant_worker))
    page = signed_in(plant_worker).get(reverse("batch_detail", args=[batch.number]))
    assert told in page.content.decode()
    for words in (heel.words, "It is counted in these weights."):
        assert words in batch.load_plan.cleanout.instruction


def test_an_occupied_tank_is_not_planned_as_if_it_were_empty(plan, plant_worker):
    first = plan()
    made(first, plant_worker)  # released, and still in the tank
    heel = plan().load_plan.heel
    assert heel.batches == (first.number,)
    assert "will be left" in heel.words


def test_an_empty_tank_that_somebody_rinsed_needs_nothing(plan):
    frozen = plan().load_plan
    assert frozen.heel is None
    assert frozen.cleanout.previous_product == "none, empty and rinsed"
    assert not frozen.cleanout.flush


def test_unknown_contents_ask_for_a_look_or_a_rinse(rep, company, plant_worker, shop):
    tank = TankFactory(name="Tank 9", signed=False)
    order = placed_order(rep, company)
    (batch,) = plan_batches(order=order, tank=tank, acting_user=plant_worker)
    cleanout = batch.load_plan.cleanout
    assert cleanout.previous_product == ""
    assert "Look into it and sign what is in it, or rinse it" in cleanout.instruction
    assert "no rinse" not in cleanout.instruction
    assert batch.load_plan.heel is None


def test_a_heel_whose_stocks_nobody_knows_is_flushed_out(plan, signed):
    signed(15, UREA_LEFT)
    frozen = plan().load_plan
    assert frozen.cleanout.flush
    assert "Of which stocks rinse of before is made is not known." in frozen.cleanout.instruction
    assert frozen.heel is None


def test_a_rule_that_cannot_live_with_the_heel_asks_for_a_flush(plan):
    plan()
    BaseStockFactory(code="CAN", name="calcium solution", analysis={"Ca": 12.0}, traits=["calcium"])
    CompatibilityRuleFactory(
        trait_a=TraitFactory(code="calcium"), trait_b=TraitFactory(code="urea_triazone")
    )
    wish = {"targets": [{"nutrient": "Ca", "min": 2}], "fill": {"volume_gal": 530}}
    frozen = plan(wish, "Calcium").load_plan
    assert frozen.cleanout.flush
    assert "urea-triazone solution left in the tank meets calcium solution" in (
        frozen.cleanout.instruction
    )
    assert frozen.heel is None


def test_a_zero_guarantee_asks_for_a_flush(plan):
    plan()
    wish = {
        "targets": [{"nutrient": "Fe", "min": 0.5}, {"nutrient": "N", "max": 0}],
        "fill": {"volume_gal": 530},
    }
    frozen = plan(wish, "No nitrogen").load_plan
    assert frozen.cleanout.flush
    assert "holds Total nitrogen, and this load is to hold none" in frozen.cleanout.instruction


def test_a_stock_the_customer_is_to_be_without_asks_for_a_flush(plan):
    plan()
    wish = {**WISH, "exclude": ["KAC"], "targets": [{"nutrient": "N", "min": 24}]}
    frozen = plan(wish, "Without acetate").load_plan
    assert frozen.cleanout.flush
    assert "holds potassium acetate solution, which this load is to be without" in (
        frozen.cleanout.instruction
    )


def test_a_promise_that_cannot_be_kept_beside_the_heel_asks_for_a_flush(plan, plant_worker, tank):
    """All of the tank at 50 % slow cannot be had beside so much that holds none."""
    first = plan({"targets": [{"nutrient": "Fe", "min": 1}], "fill": {"volume_gal": 530}}, "Iron")
    made(first, plant_worker)
    drained(tank, plant_worker, heel_gal=500)
    frozen = plan().load_plan
    assert frozen.cleanout.flush
    assert "Beside what is left" in frozen.cleanout.instruction
    assert frozen.heel is None
    assert frozen.charged_lb == pytest.approx(frozen.mass_lb, abs=1e-4)


def test_page_says_when_the_tank_holds_something_else_than_planned(
    plan, plant_worker, tank, signed, signed_in
):
    first = plan()
    made(first, plant_worker)
    drained(tank, plant_worker)
    later = plan()
    page = reverse("batch_detail", args=[later.number])
    client = signed_in(plant_worker)
    assert "Plan this load again" not in client.get(page).content.decode()
    signed(0, {}, Found.EMPTY)
    assert "Plan this load again" in client.get(page).content.decode()


def test_no_figure_of_a_plan_changes_with_an_empty_tank_signed_twice(plan, signed):
    one = plan()
    Batch.objects.filter(pk=one.pk).update(status=Batch.Status.CANCELLED)
    signed(0, {}, Found.EMPTY)
    two = plan()
    assert replace(two.load_plan, cleanout=one.load_plan.cleanout) == one.load_plan
    assert BaseStock.objects.count() == 5
