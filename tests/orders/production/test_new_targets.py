"""The rest of a load planned again: after an early overcharge, and for another lot."""

import random
import re
from dataclasses import replace

import pytest

from blendshop.errors import BadInput, ChangedMeanwhile, NotAllowed
from formulas.engine.label.assay_check import Verdict
from formulas.engine.plant.with_room import plan_with_room
from formulas.models import CompatibilityRule
from orders.allocation.candidates import committed_lb
from orders.frozen.load_plan import PlannedLot
from orders.models import PlanAddition, StockLot, Tank, TargetChange
from orders.models.pounds import exact_pounds
from orders.papers.actions import issue_batch_record
from orders.production.actions.charging import charge_lot
from orders.production.actions.corrections import accept_correction, accept_lot
from orders.production.as_made import as_made, expected_figures, weighed
from orders.production.charging_page import charging_page
from orders.production.corrections import proposal
from orders.production.new_targets import lot_answer, new_targets, rest_of_load
from orders.production.steps import batch_steps
from tests.factories import CompatibilityRuleFactory, TraitFactory, today
from tests.orders.labels.label_cases import text_of
from tests.orders.planning.plant_cases import freeze_otherwise
from tests.orders.production.charging_cases import MEANT, charge_all, new_key, received


@pytest.fixture
def roomy(batch):
    """The batch planned with room: every weight on target keeps every promise."""
    plan_again_with_room(batch)
    return batch


def plan_again_with_room(batch):
    freeze_otherwise(batch, tolerance_pct=0.5)
    load = plan_with_room(rest_of_load(batch, batch_steps(batch), today()).question)
    planned = {step.code: step for step in load.steps}
    steps = tuple(
        replace(
            step,
            weight_lb=planned[step.code].weight_lb,
            tolerance_lb=planned[step.code].tolerance_lb,
        )
        for step in batch.load_plan.steps
    )
    freeze_otherwise(batch, steps=steps, mass_lb=load.net_weight_lb, volume_gal=load.volume_gal)


def chance_of(seed):
    return random.Random(seed)  # noqa: S311 - weights, no secrets


def put_in(batch, lots, by, number, mass=None):
    step = batch_steps(batch)[number - 1]
    charge_lot(
        batch=batch,
        step=number,
        lot=lots.get(step.code),
        mass_lb=step.target_lb if mass is None else mass,
        key=new_key(),
        acting_user=by,
        confirmed=MEANT,
    )
    batch.refresh_from_db()


def proposed(batch):
    return proposal(batch, batch_steps(batch), today())


def accept(batch, by, key=None):
    return accept_correction(
        batch=batch, seen=proposed(batch).digest, key=key or new_key(), acting_user=by
    )


def charge_somewhere_on_target(batch, lots, by, chance):
    """Everything still to come, anywhere within its tolerance."""
    for step in batch_steps(batch):
        if not step.charges:
            share = exact_pounds(round(chance.uniform(-1, 1), 3))
            mass = exact_pounds(round(step.target_lb + share * step.tolerance_lb, 3))
            put_in(batch, lots, by, step.number, mass)


def misses(batch):
    made = as_made(batch, batch_steps(batch))
    return [check.key for check in made.guarantees if check.verdict is not Verdict.MEETS]


def test_nothing_is_proposed_while_every_weight_on_target_keeps_the_promise(
    roomy, lots, plant_worker
):
    for number, off in ((1, 1), (2, -1)):
        step = batch_steps(roomy)[number - 1]
        put_in(roomy, lots, plant_worker, number, step.target_lb + off * step.tolerance_lb)
        assert proposed(roomy) is None


@pytest.mark.parametrize(("number", "over"), [(1, 60), (1, 200), (2, 150)])
def test_after_an_overcharge_every_weight_on_the_new_targets_keeps_the_promise(
    roomy, lots, plant_worker, number, over
):
    """Random weights within the tolerances, judged by the as-made record, which knows no plan."""
    for earlier in range(1, number):
        put_in(roomy, lots, plant_worker, earlier)
    target = batch_steps(roomy)[number - 1].target_lb
    put_in(roomy, lots, plant_worker, number, target + over)
    found = proposed(roomy)
    if found is None:  # an overcharge that hurts no promise
        charge_somewhere_on_target(roomy, lots, plant_worker, chance_of(number))
        assert not misses(roomy)
        return
    assert found.targets
    assert not found.additions
    accept(roomy, plant_worker)
    assert not PlanAddition.objects.exists()
    assert proposed(roomy) is None
    charge_somewhere_on_target(roomy, lots, plant_worker, chance_of(over))
    assert not misses(roomy)
    assert proposed(roomy) is None


def test_what_the_rest_cannot_mend_goes_behind_the_plan(roomy, lots, plant_worker):
    """Only one stock is to come: alone it would thin the others."""
    for number in (1, 2):
        put_in(roomy, lots, plant_worker, number)
    put_in(roomy, lots, plant_worker, 3, batch_steps(roomy)[2].target_lb + 300)
    found = proposed(roomy)
    assert {each.stock.code for each in found.additions} == {"UAN"}
    assert {target.step.code for target in found.targets} <= {"TRZ"}
    accept(roomy, plant_worker)
    assert proposed(roomy) is None
    charge_all(roomy, lots, plant_worker)
    assert not misses(roomy)


def test_too_much_water_raises_the_others_in_the_order_they_stand(roomy, lots, plant_worker):
    water = batch_steps(roomy)[0].target_lb
    put_in(roomy, lots, plant_worker, 1, water + 200)
    before = {step.number: step.target_lb for step in batch_steps(roomy)}
    accept(roomy, plant_worker)
    after = {step.number: step.target_lb for step in batch_steps(roomy)}
    assert after[1] == before[1]
    assert sum(after.values()) > sum(before.values())
    assert after[4] > before[4]  # half of the nitrogen is slow, and only this stock has it


def test_a_new_target_is_a_row_beside_the_plan_and_its_history_stays_visible(
    roomy, lots, plant_worker, signed_in
):
    plan = roomy.load_plan
    water = batch_steps(roomy)[0].target_lb
    put_in(roomy, lots, plant_worker, 1, water + 100)
    key = new_key()
    first = accept(roomy, plant_worker, key)
    again = accept_correction(batch=roomy, seen="", key=key, acting_user=plant_worker)
    assert again == first
    put_in(roomy, lots, plant_worker, 1, 100)  # and once more
    accept(roomy, plant_worker)
    roomy.refresh_from_db()
    assert roomy.load_plan == plan
    step = batch_steps(roomy)[3]
    assert [change.was_lb for change in step.changes] == [
        step.planned_lb,
        step.changes[0].weight_lb,
    ]
    assert step.target_lb == step.changes[1].weight_lb
    html = signed_in(plant_worker).get(f"/batches/{roomy.number}/charge/").content.decode()
    for change in step.changes:
        assert f"<s>{change.was_lb:,.0f}</s> Pat Plant" in html
    record = text_of(bytes(issue_batch_record(batch=roomy, acting_user=plant_worker).pdf))
    assert f"Target before: {step.planned_lb:,.0f} lb" in " ".join(record.split())
    assert "Correction accepted" in roomy.events.last().why


def test_targets_that_were_not_seen_are_not_accepted(roomy, lots, plant_worker):
    put_in(roomy, lots, plant_worker, 1, batch_steps(roomy)[0].target_lb + 100)
    stale = proposed(roomy).digest
    put_in(roomy, lots, plant_worker, 1, 50)
    with pytest.raises(ChangedMeanwhile):
        accept_correction(batch=roomy, seen=stale, key=new_key(), acting_user=plant_worker)
    assert not TargetChange.objects.exists()


def test_targets_beyond_what_is_on_hand_or_the_tank_holds_are_not_proposed(
    roomy, lots, plant_worker
):
    put_in(roomy, lots, plant_worker, 1, batch_steps(roomy)[0].target_lb + 200)
    rest = rest_of_load(roomy, batch_steps(roomy), today())
    found = new_targets(rest)
    assert found
    most = max(found.targets, key=lambda target: target.more_lb)
    StockLot.objects.filter(stock__code=most.step.code).update(
        on_hand_lb=most.step.target_lb + most.more_lb - 1
    )
    assert new_targets(rest_of_load(roomy, batch_steps(roomy), today())) is None
    StockLot.objects.update(on_hand_lb=50_000)
    Tank.objects.update(capacity_gal=int(roomy.load_plan.volume_gal))
    roomy.refresh_from_db()
    assert new_targets(rest_of_load(roomy, batch_steps(roomy), today())) is None


def test_targets_that_a_rule_forbids_beside_what_is_in_the_tank_are_not_proposed(
    roomy, lots, plant_worker
):
    put_in(roomy, lots, plant_worker, 1, batch_steps(roomy)[0].target_lb + 200)
    rest = rest_of_load(roomy, batch_steps(roomy), today())
    assert new_targets(rest)
    for code, trait in (("WATER", "calcium"), ("TRZ", "phosphate")):
        row = rest.available.rows[code]
        row.traits.add(TraitFactory(code=trait))
    CompatibilityRuleFactory()
    assert CompatibilityRule.objects.exists()
    assert new_targets(rest_of_load(roomy, batch_steps(roomy), today())) is None


def test_a_plan_of_before_keeps_its_rule_and_is_corrected_by_new_targets_too(
    batch, lots, plant_worker
):
    freeze_otherwise(
        batch,
        tolerance_pct=None,
        steps=tuple(replace(step, tolerance_lb=None) for step in batch.load_plan.steps),
    )
    put_in(batch, lots, plant_worker, 1, batch_steps(batch)[0].target_lb + 100)
    assert proposed(batch).targets
    accept(batch, plant_worker)
    assert proposed(batch) is None
    charge_all(batch, lots, plant_worker)
    assert not misses(batch)


# ------------------------------------------------------------------------------- another lot
@pytest.fixture
def weak(roomy, lots, plant_worker):
    """Step 2's stock with less nitrogen than planned, by its certificate."""
    figures = dict(batch_steps(roomy)[1].figures.analysis)
    less = {key: round(0.97 * pct, 3) for key, pct in figures.items() if pct}
    put_in(roomy, lots, plant_worker, 1)
    return received("UAN", plant_worker, figures=less)


def answer_for(batch, number, lot):
    steps = batch_steps(batch)
    return lot_answer(batch, steps, steps[number - 1], lot, today())


def test_a_lot_as_planned_keeps_the_printed_weights(roomy, lots, plant_worker):
    put_in(roomy, lots, plant_worker, 1)
    assert answer_for(roomy, 2, lots["UAN"]).keeps


def test_a_weaker_lot_is_answered_with_what_to_take_of_it_and_of_the_rest(
    roomy, lots, weak, plant_worker
):
    answer = answer_for(roomy, 2, weak)
    assert not answer.keeps
    assert 2 in {target.step.number for target in answer.new.targets}
    accept_lot(
        batch=roomy,
        step=2,
        lot=weak,
        seen=answer.new.digest,
        key=new_key(),
        acting_user=plant_worker,
    )
    assert batch_steps(roomy)[1].changes[-1].lot == weak
    assert expected_figures(batch_steps(roomy)[1]).code == weak.code
    assert proposed(roomy) is None  # the targets count on this lot
    assert answer_for(roomy, 2, weak).keeps
    charge_somewhere_on_target(roomy, {**lots, "UAN": weak}, plant_worker, chance_of(7))
    assert not misses(roomy)
    assert [each.lot.code for each in weighed(batch_steps(roomy))][1] == weak.code


def test_the_printed_weights_with_the_weaker_lot_would_have_missed(roomy, lots, weak, plant_worker):
    """Else the test above would prove nothing."""
    for number, lot in ((2, weak), (3, lots["KAC"]), (4, lots["TRZ"])):
        step = batch_steps(roomy)[number - 1]
        put_in(roomy, {step.code: lot}, plant_worker, number)
    assert misses(roomy)


def test_a_lot_that_nothing_can_make_good_is_said_to_be_none(roomy, lots, plant_worker):
    put_in(roomy, lots, plant_worker, 1)
    poor = received("TRZ", plant_worker, figures={"N.slow": 0.0, "N.urea": 1.0})
    answer = answer_for(roomy, 4, poor)
    assert not answer.keeps
    assert answer.new is None


def test_accepting_a_lot_is_for_what_was_seen_of_the_right_stock_and_the_right_people(
    roomy, lots, weak, plant_worker, rep
):
    seen = answer_for(roomy, 2, weak).new.digest
    asked = {"batch": roomy, "step": 2, "lot": weak, "seen": seen}
    with pytest.raises(NotAllowed):
        accept_lot(**asked, key=new_key(), acting_user=rep)
    with pytest.raises(BadInput):
        accept_lot(**{**asked, "lot": lots["KAC"]}, key=new_key(), acting_user=plant_worker)
    put_in(roomy, lots, plant_worker, 1, 30)
    with pytest.raises(ChangedMeanwhile):
        accept_lot(**asked, key=new_key(), acting_user=plant_worker)
    assert not TargetChange.objects.exists()


def test_the_tablet_knows_of_each_lot_on_hand_whether_the_printed_weights_keep_the_promise(
    roomy, lots, weak, plant_worker
):
    (second,) = [
        step
        for step in charging_page(roomy, plant_worker, today())["screen"]["steps"]
        if step["number"] == 2
    ]
    assert second["lots_keep"] == {lots["UAN"].code: True, weak.code: False}


def test_at_the_scan_the_page_says_what_to_take_and_a_press_takes_it(
    roomy, lots, weak, plant_worker, signed_in
):
    client = signed_in(plant_worker)
    url = f"/batches/{roomy.number}/charge/lot/"
    html = client.get(url, {"step": 2, "lot": weak.code}).content.decode()
    assert "With this lot take:" in html
    assert "$" not in html
    fine = client.get(url, {"step": 2, "lot": lots["UAN"].code}).content.decode()
    assert "as printed: every promise holds" in fine
    assert client.get(url, {"step": 3, "lot": weak.code}).content.decode().strip() == ""
    seen = re.search(r'name="seen" value="([^"]+)"', html)[1]
    form = {"key": new_key(), "seen": seen, "step": 2, "lot": weak.code}
    for _ in range(2):
        assert client.post(url, form).status_code == 302
    assert TargetChange.objects.filter(step=2).count() == 1


def test_a_weighing_counts_on_the_lots_its_plan_names(roomy, lots, plant_worker):
    step = roomy.load_plan.steps[1]
    weak = PlannedLot(
        code="L-1", weight_lb=300.0, density_lb_per_gal=10.0, analysis={"N.urea": 10.0}
    )
    strong = PlannedLot(
        code="L-2", weight_lb=100.0, density_lb_per_gal=11.0, analysis={"N.urea": 14.0}
    )
    planned = replace(step, lots=(weak, strong))
    steps = tuple(planned if each.code == step.code else each for each in roomy.load_plan.steps)
    freeze_otherwise(roomy, steps=steps)
    figures = expected_figures(batch_steps(roomy)[1])
    # By hand: (300 · 10 + 100 · 14) / 400 = 11 %; 400 lb / (300/10 + 100/11 gal).
    assert figures.analysis["N.urea"] == pytest.approx(11.0)
    assert figures.density_lb_per_gal == pytest.approx(400 / (30 + 100 / 11))
    assert figures.analysis["N.nitrate"] == pytest.approx(step.analysis["N.nitrate"])


def test_stock_spoken_for_follows_the_new_target(roomy, lots, plant_worker):
    """What the stock plan leaves alone: with the old target it would promise the rest away."""
    put_in(roomy, lots, plant_worker, 1, batch_steps(roomy)[0].target_lb + 200)
    before = committed_lb()
    raised = {target.step.code: target for target in proposed(roomy).targets}
    accept(roomy, plant_worker)
    after = committed_lb()
    assert after["TRZ"] - before["TRZ"] == pytest.approx(float(raised["TRZ"].more_lb))
