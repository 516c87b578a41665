"""Planning picks the lots a load is weighed from, and plans with their certificates."""

import re

import pytest
from django.urls import reverse

from formulas.models import BaseStock
from orders.inventory.actions.lot_quality import hold_lot
from orders.models import Tank
from orders.papers.actions import issue_batch_ticket, issue_pick_list
from orders.planning.actions.planning import plan_batches
from orders.planning.lot_choice import lots_on_hand, planned_from_lots
from orders.production.actions.batches import cancel_batch
from orders.production.actions.charging import charge_lot
from tests.factories import in_days, today
from tests.orders.inventory.stock_cases import make_lot
from tests.orders.planning.on_target import text_of
from tests.orders.planning.plant_cases import placed_order, save_half_slow
from tests.orders.production.charging_cases import new_key


@pytest.fixture
def lot(plant_worker):
    def made(code, mass_lb, **more):
        return make_lot(BaseStock.objects.get(code=code), plant_worker, mass_lb, **more)

    return made


@pytest.fixture
def plan(shop, rep, company, plant_worker):
    """Plans the quantity of the half-slow blend; its batches."""
    revision = save_half_slow(rep, company)

    def planned(quantity=4):
        order = placed_order(rep, company, revision=revision, quantity=quantity)
        return plan_batches(order=order, tank=Tank.objects.get(), acting_user=plant_worker)

    return planned


def steps_of(batch):
    return {step.code: step for step in batch.load_plan.steps}


def test_the_first_usable_lot_to_expire_that_holds_enough_is_taken(plan, lot, plant_worker):
    lot("UAN", 90_000, expires_on=in_days(200))
    soon = lot("UAN", 90_000, expires_on=in_days(20))
    lot("UAN", 90_000)
    held = lot("UAN", 90_000, expires_on=in_days(5))
    hold_lot(lot=held, why="Being tested.", acting_user=plant_worker)
    lot("UAN", 30, expires_on=in_days(2))  # too little to be worth a second lot in the step
    (batch,) = plan()
    (planned,) = steps_of(batch)["UAN"].lots
    assert planned.code == soon.code
    assert planned.weight_lb == steps_of(batch)["UAN"].weight_lb


def test_a_certificate_moves_the_weights_and_the_analysis(plan, lot):
    (typical,) = plan()
    weak = {"N.urea": 16.0, "N.ammoniacal": 7.6, "N.nitrate": 7.6}
    lot("UAN", 90_000, figures=weak)
    (batch,) = plan()
    step = steps_of(batch)["UAN"]
    assert step.weight_lb > steps_of(typical)["UAN"].weight_lb, "less in it, so more of it"
    assert step.analysis["N.urea"] == 16.4, "the step keeps the stock's typical figures"
    assert step.lots[0].analysis == weak
    frozen = batch.load_plan
    lb = (
        sum(
            each.weight_lb
            * (each.lots[0].analysis if each.lots else each.analysis).get("N.nitrate", 0)
            for each in frozen.steps
        )
        + frozen.heel.mass_lb * frozen.heel.analysis["N.nitrate"]
    )
    assert frozen.analysis["N.nitrate"] == pytest.approx(lb / frozen.mass_lb, abs=1e-5)


def test_a_lots_density_is_the_one_the_volume_is_planned_with(plan, lot, plant_worker):
    heavy = lot("KAC", 90_000)
    heavy.density_lb_per_gal, heavy.density_source = 10.95, "CoA 9, invented"
    heavy.save()
    (batch,) = plan()
    step = steps_of(batch)["KAC"]
    assert step.lots[0].density_lb_per_gal == 10.95
    assert step.volume_gal == pytest.approx(step.weight_lb / 10.95, abs=1e-5)


def test_several_lots_serve_where_none_is_enough(plan, lot):
    first = lot("UAN", 1_000.5, expires_on=in_days(10), figures={"N.urea": 16.6})
    second = lot("UAN", 2_000, expires_on=in_days(30), figures={"N.urea": 16.2})
    (batch,) = plan()
    step = steps_of(batch)["UAN"]
    assert [(each.code, each.weight_lb) for each in step.lots] == [
        (first.code, 1_000.0),  # whole divisions of the scale
        (second.code, step.weight_lb - 1_000.0),
    ]


def test_what_no_lot_covers_is_planned_with_typical_figures_and_the_plan_says_so(plan, lot):
    lot("UAN", 1_000)
    (batch,) = plan()
    step = steps_of(batch)["UAN"]
    assert [each.weight_lb for each in step.lots] == [1_000.0]
    assert steps_of(batch)["TRZ"].lots == ()
    (finding,) = [f for f in batch.load_plan.findings if f.code == "typical_figures"]
    left = f"{step.weight_lb - 1_000:,.0f} lb of {step.weight_lb:,.0f} lb"
    assert f"urea ammonium nitrate solution ({left})" in finding.message
    assert "urea-triazone solution" in finding.message
    assert "water" not in finding.message, "it comes from the main"


def test_a_plant_with_enough_of_everything_reads_nothing_about_typical_figures(plan, lot):
    for code in ("UAN", "TRZ", "KAC"):
        lot(code, 90_000)
    (batch,) = plan()
    assert "typical_figures" not in {finding.code for finding in batch.load_plan.findings}


def test_what_another_open_batch_is_to_take_is_not_there(plan, lot, plant_worker):
    first = lot("UAN", 3_000, expires_on=in_days(10))
    second = lot("UAN", 90_000, expires_on=in_days(30))
    (one,) = plan()
    assert [each.code for each in steps_of(one)["UAN"].lots] == [first.code]
    (two,) = plan()
    assert [each.code for each in steps_of(two)["UAN"].lots] == [second.code]
    # A batch that is cancelled takes nothing, and what is charged is gone from the lot itself.
    cancel_batch(batch=one, acting_user=plant_worker, why="wrong tank")
    assert first.code not in planned_from_lots()
    (three,) = plan()
    assert [each.code for each in steps_of(three)["UAN"].lots] == [first.code]


def test_what_was_charged_counts_once(plan, lot, plant_worker):
    uan = lot("UAN", 90_000)
    (batch,) = plan()
    number, step = next(
        (n, s) for n, s in enumerate(batch.load_plan.steps, start=1) if s.code == "UAN"
    )
    stock = BaseStock.objects.get(code="UAN")
    free = [each.free_lb for each in lots_on_hand([stock], today())["UAN"]]
    assert free == [90_000 - step.weight_lb]
    water = batch.load_plan.steps[0]
    for place, charged, of in ((1, water, None), (number, step, uan)):
        charge_lot(
            batch=batch, step=place, lot=of, mass_lb=charged.weight_lb, key=new_key(),
            acting_user=plant_worker,
        )  # fmt: skip
    assert [each.free_lb for each in lots_on_hand([stock], today())["UAN"]] == free


def test_ticket_and_page_name_the_lot_and_what_its_certificate_says_otherwise(
    plan, lot, plant_worker, signed_in
):
    strong = lot("UAN", 90_000, figures={"N.urea": 16.6})
    plain = lot("TRZ", 90_000)
    (batch,) = plan()
    ticket = text_of(issue_batch_ticket(batch=batch, acting_user=plant_worker))
    page = signed_in(plant_worker).get(reverse("batch_detail", args=[batch.number]))
    for lot_taken in (strong, plain):
        assert lot_taken.code in ticket
    assert re.findall(r"Lot (\S+), [^:]+: Urea N 16.6 %, typical 16.4", ticket) == [strong.code]
    assert f"Lot {plain.code}" not in ticket
    shown = page.content.decode()
    assert f"{strong.code}</a>" in shown
    assert "(Urea N 16.6 %, typical 16.4)" in shown


def test_the_pick_list_brings_the_lots_of_the_plan(plan, lot, plant_worker):
    planned = lot("UAN", 90_000, expires_on=in_days(30))
    (batch,) = plan()
    sooner = lot("UAN", 90_000, expires_on=in_days(3))
    listed = text_of(issue_pick_list(batch=batch, acting_user=plant_worker))
    assert planned.code in listed
    assert sooner.code not in listed, "the weights are not worked out for it"
    hold_lot(lot=planned, why="Being tested.", acting_user=plant_worker)
    listed = text_of(issue_pick_list(batch=batch, acting_user=plant_worker))
    assert f"{planned.code}: planned, but held" in listed
