"""Charging: each weight once, in order, from the right lot, and what the tank holds by it."""

from decimal import Decimal

import pytest
from django.db import IntegrityError, transaction

from blendshop.errors import BadInput, ChangedMeanwhile, IllegalMove, NotAllowed
from blendshop.immutable import WrittenOnce
from formulas.engine.label.assay_check import Verdict
from orders.inventory.actions.lot_quality import hold_lot
from orders.models import Charge, StockMovement
from orders.production.actions.batches import mark_made
from orders.production.actions.charging import charge_lot, reverse_charge
from orders.production.as_made import as_made, when_finished
from orders.production.steps import WeighingStatus, batch_steps, current_step, tolerance_lb
from tests.orders.production.charging_cases import (
    MEANT,
    charge_all,
    charged_and_made,
    new_key,
    received,
)


def charge(batch, lots, by, number, *, mass=None, key=None, lot="suggested", confirmed=()):
    step = batch_steps(batch)[number - 1]
    return charge_lot(
        batch=batch,
        step=number,
        lot=lots.get(step.code) if lot == "suggested" else lot,
        mass_lb=step.target_lb if mass is None else mass,
        key=key or new_key(),
        acting_user=by,
        confirmed=confirmed,
    )


def test_the_first_charge_opens_the_batch_and_each_takes_its_mass_off_the_lot(
    batch, lots, plant_worker
):
    charge_all(batch, lots, plant_worker)
    assert batch.status == "charging"
    assert batch.events.filter(to_status="charging").count() == 1
    for step in batch_steps(batch):
        assert step.status is WeighingStatus.ON_TARGET
        if lot := lots.get(step.code):
            lot.refresh_from_db()
            assert lot.on_hand_lb == 50_000 - step.target_lb


def test_the_same_key_again_charges_nothing_twice(batch, lots, plant_worker):
    charge(batch, lots, plant_worker, 1)
    key = new_key()
    first = charge(batch, lots, plant_worker, 2, key=key)
    assert charge(batch, lots, plant_worker, 2, key=key) == first
    assert Charge.objects.count() == 2
    assert StockMovement.objects.filter(kind="used").count() == 1


def test_a_charge_sent_again_after_the_batch_was_mixed_is_still_answered(batch, lots, plant_worker):
    """The tablet never heard the first answer; a refusal would make it weigh again."""
    key = new_key()
    first = charge(batch, lots, plant_worker, 1, key=key)
    charge_all(batch, lots, plant_worker)
    mark_made(batch=batch, acting_user=plant_worker)
    assert charge(batch, lots, plant_worker, 1, key=key) == first


def test_a_key_stands_for_one_charge_only(batch, lots, plant_worker):
    key = new_key()
    charge(batch, lots, plant_worker, 1, key=key)
    with pytest.raises(ChangedMeanwhile, match="already saved"):
        charge(batch, lots, plant_worker, 1, key=key, mass=1)
    assert Charge.objects.count() == 1


@pytest.mark.parametrize("key", ["", "short", "x" * 65, "no spaces here"])
def test_a_charge_without_a_proper_key_is_refused(batch, lots, plant_worker, key):
    with pytest.raises(BadInput):
        charge_lot(batch=batch, step=1, lot=None, mass_lb=1, key=key, acting_user=plant_worker)


def test_a_later_stock_waits_for_the_earlier_unless_a_formulator_decides(
    batch, lots, plant_worker, formulator
):
    with pytest.raises(IllegalMove, match="comes before"):
        charge(batch, lots, plant_worker, 2)
    assert not Charge.objects.exists()
    charge(batch, lots, formulator, 2)
    assert Charge.objects.get().step == 2


def test_a_lot_of_another_stock_is_refused_by_name(batch, lots, plant_worker):
    charge(batch, lots, plant_worker, 1)
    second, third = batch_steps(batch)[1:3]
    with pytest.raises(BadInput, match=second.name):
        charge(batch, lots, plant_worker, 2, lot=lots[third.code])


def test_only_water_from_the_main_needs_no_lot(batch, lots, plant_worker):
    charge(batch, lots, plant_worker, 1, lot=None)
    with pytest.raises(BadInput, match="Scan or choose"):
        charge(batch, lots, plant_worker, 2, lot=None)
    received("WATER", plant_worker)
    with pytest.raises(BadInput, match="Scan or choose"):
        charge(batch, lots, plant_worker, 1, lot=None)


def test_a_held_lot_or_one_with_too_little_charges_nothing(batch, lots, plant_worker):
    charge(batch, lots, plant_worker, 1)
    code = batch_steps(batch)[1].code
    little = received(code, plant_worker, mass_lb=5)
    with pytest.raises(BadInput, match="holds 5 lb"):
        charge(batch, lots, plant_worker, 2, lot=little)
    hold_lot(lot=lots[code], why="cloudy", acting_user=plant_worker)
    with pytest.raises(IllegalMove, match="cloudy"):
        charge(batch, lots, plant_worker, 2)
    assert Charge.objects.count() == 1


@pytest.mark.parametrize("who", ["rep", "office", "customer"])
def test_charging_is_for_plant_and_formulator(request, batch, who):
    with pytest.raises(NotAllowed):
        charge(batch, {}, request.getfixturevalue(who), 1)


def test_charges_are_final_once_the_batch_is_made(batch, lots, plant_worker):
    charge_all(batch, lots, plant_worker)
    mark_made(batch=batch, acting_user=plant_worker)
    with pytest.raises(IllegalMove, match="made"):
        charge(batch, lots, plant_worker, 1)


def test_a_batch_is_not_made_while_a_stock_is_missing(batch, lots, plant_worker):
    charge(batch, lots, plant_worker, 1)
    batch.refresh_from_db()
    with pytest.raises(IllegalMove, match="not charged yet"):
        mark_made(batch=batch, acting_user=plant_worker)


def test_a_reversed_charge_gives_its_mass_back_and_counts_no_more(batch, lots, plant_worker):
    charge(batch, lots, plant_worker, 1)
    wrong = charge(batch, lots, plant_worker, 2, mass=Decimal("12.5"))
    key = new_key()
    for _ in range(2):
        reverse_charge(charge=wrong, why="typed 12.5 for 1250", key=key, acting_user=plant_worker)
    lot = wrong.lot
    lot.refresh_from_db()
    assert lot.on_hand_lb == 50_000
    assert batch_steps(batch)[1].status is WeighingStatus.WAITING
    assert Charge.objects.count() == 2
    assert "12.5 lb reversed" in batch.events.last().why
    with pytest.raises(IllegalMove, match="already"):
        reverse_charge(charge=wrong, why="x", key=new_key(), acting_user=plant_worker)


def test_a_charge_is_never_edited_and_its_database_refuses_nothing_weighed(
    batch, lots, plant_worker
):
    written = charge(batch, lots, plant_worker, 1)
    written.mass_lb = Decimal(1)
    with pytest.raises(WrittenOnce):
        written.save()
    with pytest.raises(IntegrityError), transaction.atomic():
        Charge.objects.create(
            batch=batch, step=1, stock=written.stock, mass_lb=Decimal(0), key="zero", who="x"
        )
    with pytest.raises(IntegrityError), transaction.atomic():
        Charge.objects.create(
            batch=batch, step=1, stock=written.stock, mass_lb=Decimal(1), key=written.key, who="x"
        )


@pytest.mark.parametrize(
    ("target", "step", "tolerance"),
    [("80", "1", "1"), ("2450", "1", "12"), ("2450", "5", "10"), ("90", "0.5", "0.5")],
)
def test_the_tolerance_is_a_scale_step_or_half_a_percent_in_whole_steps(target, step, tolerance):
    assert tolerance_lb(Decimal(target), Decimal(step)) == Decimal(tolerance)


def test_over_and_under_begin_just_outside_the_tolerance(batch, lots, plant_worker):
    charge(batch, lots, plant_worker, 1)
    step = batch_steps(batch)[1]
    edge = step.target_lb + step.tolerance_lb
    charge(batch, lots, plant_worker, 2, mass=edge)
    assert batch_steps(batch)[1].status is WeighingStatus.ON_TARGET
    charge(batch, lots, plant_worker, 2, mass=step.scale_step_lb)
    assert batch_steps(batch)[1].status is WeighingStatus.OVER


def test_an_underweight_stock_stays_current_until_made_up_or_passed_over(batch, lots, plant_worker):
    charge(batch, lots, plant_worker, 1)
    target = batch_steps(batch)[1].target_lb
    charge(batch, lots, plant_worker, 2, mass=target - 50)
    steps = batch_steps(batch)
    assert current_step(steps).number == 2
    assert steps[1].status is WeighingStatus.UNDER
    assert steps[1].left_lb == 50
    charge(batch, lots, plant_worker, 2, mass=50)
    assert current_step(batch_steps(batch)).number == 3


def test_as_made_is_worked_out_from_actual_weights_and_the_lots_certificates(
    batch, lots, plant_worker
):
    """By hand: 100 lb x (pct of its lot) added up, over the mass. UAN's lot says 8.5 % urea N."""
    certified = received("UAN", plant_worker, figures={"N.urea": 14.4}, density_lb_per_gal=11.0)
    charge_all(batch, {**lots, "UAN": certified}, plant_worker)
    made = as_made(batch, batch_steps(batch))
    nitrogen = 0.0
    volume = 0.0
    for step in batch.load_plan.steps:
        analysis = dict(step.analysis)
        density = step.density_lb_per_gal
        if step.code == "UAN":
            analysis["N.urea"] = 14.4
            density = 11.0
        nitrogen += step.weight_lb * sum(v for k, v in analysis.items() if k[:2] == "N.")
        volume += step.weight_lb / density
    mass = batch.load_plan.mass_lb
    assert made.mass_lb == pytest.approx(mass)
    assert made.analysis["N"] == pytest.approx(nitrogen / mass)
    assert made.volume_gal == pytest.approx(volume)
    assert made.analysis["N"] < batch.load_plan.analysis["N"]


def test_guarantees_hold_as_planned_and_a_heavy_hand_of_water_breaks_them(
    batch, lots, plant_worker
):
    planned = when_finished(batch, batch_steps(batch))
    assert {check.verdict for check in planned.guarantees} == {Verdict.MEETS}
    water = batch_steps(batch)[0]
    assert water.is_water
    charge(batch, lots, plant_worker, 1, mass=water.target_lb + 600, confirmed=MEANT)
    spoiled = when_finished(batch, batch_steps(batch))
    verdicts = {check.key: check.verdict for check in spoiled.guarantees}
    assert verdicts["N"] is Verdict.DEFICIENT
    assert spoiled.mass_lb == pytest.approx(batch.load_plan.mass_lb + 600)


def test_nothing_is_made_while_nothing_is_charged(batch):
    assert as_made(batch, batch_steps(batch)) is None


def test_charging_runs_to_made(batch, plant_worker):
    charged_and_made(batch, plant_worker)
    assert batch.status == "made"
