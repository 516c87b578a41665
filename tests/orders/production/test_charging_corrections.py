"""A weight that is off: what to add, behind the plan, or what the tank can honestly be."""

import math
from dataclasses import replace

import pytest

from blendshop.errors import ChangedMeanwhile
from formulas.engine.label.assay_check import Verdict
from orders.models import PlanAddition, Tank
from orders.production.actions.batches import mark_made, release_batch
from orders.production.actions.charging import charge_lot
from orders.production.actions.corrections import accept_correction
from orders.production.as_made import as_made
from orders.production.corrections import proposal
from orders.production.steps import batch_steps
from tests.factories import today
from tests.orders.planning.plant_cases import freeze_otherwise
from tests.orders.production.charging_cases import (
    MEANT,
    charge_all,
    new_key,
    read_density,
)


def charge_water(batch, by, over_lb):
    water = batch_steps(batch)[0]
    charge_lot(
        batch=batch,
        step=1,
        lot=None,
        mass_lb=water.target_lb + over_lb,
        key=new_key(),
        acting_user=by,
        confirmed=MEANT,
    )
    batch.refresh_from_db()


def proposed(batch):
    return proposal(batch, batch_steps(batch), today())


def test_nothing_is_proposed_while_the_plan_holds(batch, lots, plant_worker):
    assert proposed(batch) is None
    charge_water(batch, plant_worker, 0)
    assert proposed(batch) is None


def test_an_overweight_water_raises_what_is_to_come_before_anything_goes_behind_the_plan(
    batch, lots, plant_worker
):
    charge_water(batch, plant_worker, 100)
    found = proposed(batch)
    assert found.targets
    assert not found.additions
    assert found.volume_gal <= batch.tank.capacity_gal
    plan, before = batch.load_plan, batch_steps(batch)
    accept_correction(batch=batch, seen=found.digest, key=new_key(), acting_user=plant_worker)
    batch.refresh_from_db()
    assert batch.load_plan == plan
    after = batch_steps(batch)
    assert len(after) == len(before)
    for step in after[1:]:
        was = next(each for each in before if each.number == step.number)
        assert [change.was_lb for change in step.changes] == [was.target_lb] * len(step.changes)
        assert (step.target_lb != was.target_lb) == (
            step.number in {t.step.number for t in found.targets if t.more_lb}
        )
    assert proposed(batch) is None  # all of it is to come
    charge_all(batch, lots, plant_worker)
    made = as_made(batch, batch_steps(batch))
    assert {check.verdict for check in made.guarantees} == {Verdict.MEETS}
    assert made.mass_lb == pytest.approx(found.mass_lb)
    assert made.mass_lb == pytest.approx(
        plan.mass_lb + 100 + float(sum(each.more_lb for each in found.targets))
    )
    mark_made(batch=batch, acting_user=plant_worker)
    read_density(batch, plant_worker)
    release_batch(batch=batch, acting_user=plant_worker)


def test_a_repeated_acceptance_adds_nothing_and_a_stale_one_is_refused(batch, lots, plant_worker):
    charge_water(batch, plant_worker, 100)
    stale = proposed(batch).digest
    charge_lot(
        batch=batch,
        step=1,
        lot=None,
        mass_lb=20,
        key=new_key(),
        acting_user=plant_worker,
        confirmed=MEANT,
    )
    with pytest.raises(ChangedMeanwhile):
        accept_correction(batch=batch, seen=stale, key=new_key(), acting_user=plant_worker)
    assert not PlanAddition.objects.exists()
    seen, key = proposed(batch).digest, new_key()
    first = accept_correction(batch=batch, seen=seen, key=key, acting_user=plant_worker)
    again = accept_correction(batch=batch, seen=seen, key=key, acting_user=plant_worker)
    assert again == first


def test_an_accepted_correction_of_one_scale_division_waits_and_is_not_offered_again(
    batch, lots, plant_worker
):
    """What is left within the tolerance of a weighing is nothing, but not before it has begun."""
    exact_pct = math.floor(batch.load_plan.analysis["K2O"] * 1e4) / 1e4
    promised = replace(batch.load_plan.promised, minima_pct={"K2O": exact_pct})
    steps = tuple(replace(step, tolerance_lb=None) for step in batch.load_plan.steps)
    freeze_otherwise(batch, promised=promised, steps=steps, tolerance_pct=None)
    charge_all(batch, lots, plant_worker, off_lb={"KAC": -1})
    found = proposed(batch)
    assert found.additions
    accept_correction(batch=batch, seen=found.digest, key=new_key(), acting_user=plant_worker)
    (added,) = (step for step in batch_steps(batch) if step.is_addition)
    assert added.target_lb <= added.tolerance_lb
    assert proposed(batch) is None
    charge_all(batch, lots, plant_worker)
    made = as_made(batch, batch_steps(batch))
    assert {check.verdict for check in made.guarantees} == {Verdict.MEETS}


def test_a_made_batch_goes_back_to_charging_for_its_correction(batch, lots, plant_worker):
    charge_water(batch, plant_worker, 100)
    charge_all(batch, lots, plant_worker)
    mark_made(batch=batch, acting_user=plant_worker)
    accept_correction(
        batch=batch, seen=proposed(batch).digest, key=new_key(), acting_user=plant_worker
    )
    batch.refresh_from_db()
    assert batch.status == "charging"


def test_a_tank_without_room_is_told_the_best_grade_it_can_carry(batch, lots, plant_worker):
    Tank.objects.update(capacity_gal=round(batch.load_plan.volume_gal) + 60)
    batch.refresh_from_db()
    charge_water(batch, plant_worker, 450)
    found = proposed(batch)
    assert not found.additions
    assert "At best it can be sold as" in found.sentence


def test_what_is_not_on_hand_is_not_proposed(batch, plant_worker):
    charge_water(batch, plant_worker, 100)
    found = proposed(batch)  # no lot of any stock was received
    assert not found.additions
    assert found.sentence
