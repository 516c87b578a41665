"""What is in a tank, what its heel meets, and the order that needs the fewest flushes."""

from dataclasses import replace

import pytest

from formulas.models import CompatibilityRule
from orders.models import Tank
from orders.planning.actions.planning import plan_batches
from orders.planning.tank_sequence import tank_sequences
from orders.production.actions.batches import cancel_batch
from orders.production.actions.charging import charge_lot
from orders.production.steps import batch_steps
from orders.tanks.actions.rinsing import Rinse, record_rinse
from orders.tanks.contents import next_change
from tests.factories import BaseStockFactory, CompatibilityRuleFactory, TraitFactory
from tests.orders.planning.plant_cases import (
    freeze_otherwise,
    make_shop,
    placed_order,
    save_half_slow,
)
from tests.orders.production.charging_cases import charged_and_made, drained, lots_of, new_key

CALCIUM = {"targets": [{"nutrient": "Ca", "min": 5}], "fill": {"volume_gal": 265}}
PHOSPHATE = {"targets": [{"nutrient": "P2O5", "min": 5}], "fill": {"volume_gal": 265}}


@pytest.fixture
def plan(rep, company, plant_worker):
    """``plan("calcium")`` plans a load of that blend in the one tank."""
    make_shop()
    for code, key, trait in (("CAL", "Ca", "calcium"), ("PHO", "P2O5", "phosphate")):
        TraitFactory(code=trait)
        BaseStockFactory(code=code, analysis={key: 12.0}, traits=[trait])
    CompatibilityRuleFactory()
    assert CompatibilityRule.objects.count() == 1
    wishes = {"calcium": CALCIUM, "phosphate": PHOSPHATE}
    saved = {}

    def planned(kind):
        if kind not in saved:
            saved[kind] = save_half_slow(rep, company, name=kind, wish=wishes[kind])
        order = placed_order(rep, company, quantity=1, revision=saved[kind])
        (batch,) = plan_batches(order=order, tank=Tank.objects.get(), acting_user=plant_worker)
        return batch

    return planned


def test_alternating_blends_are_put_together_so_that_one_flush_is_enough(plan):
    batches = [plan(kind) for kind in ("calcium", "phosphate", "calcium", "phosphate")]
    (tank,) = tank_sequences()
    assert (tank.flushes, tank.flushes_as_given, tank.saved) == (1, 3, 2)
    kinds = [change.batch.load_plan.product_name for change in tank.changes]
    assert kinds in (["calcium"] * 2 + ["phosphate"] * 2, ["phosphate"] * 2 + ["calcium"] * 2)
    assert {change.batch for change in tank.changes} == set(batches)
    assert len(tank.same_blend) == 2


def test_the_order_begins_with_what_goes_with_the_last_batch_in_the_tank(plan, plant_worker):
    first = plan("phosphate")
    charged_and_made(first, plant_worker)
    plan("calcium")
    plan("phosphate")
    (tank,) = tank_sequences()
    assert tank.found.batch_numbers == (first.number,)
    assert tank.found.is_expected
    assert [change.batch.load_plan.product_name for change in tank.changes] == [
        "phosphate", "calcium",
    ]  # fmt: skip
    assert [change.needs_flush for change in tank.changes] == [False, True]
    assert "calcium phosphate drops out" in tank.changes[1].words


def test_percentages_that_rounding_keeps_from_a_hundred_do_not_matter(plan, plant_worker):
    first, later = plan("phosphate"), plan("calcium")
    charged_and_made(first, plant_worker)
    steps = later.load_plan.steps
    freeze_otherwise(
        later, steps=tuple(replace(step, pct=round(step.pct, 1) + 0.01) for step in steps)
    )
    assert next_change(later).needs_flush


def test_a_rinse_that_was_written_down_takes_the_heel_away(plan, plant_worker):
    first = plan("phosphate")
    charged_and_made(first, plant_worker)
    later = plan("calcium")
    assert next_change(later).needs_flush
    drained(first.tank, plant_worker)
    assert next_change(later).needs_flush
    record_rinse(
        tank=first.tank, rinse=Rinse(300, 10, is_kept=False), key=new_key(),
        acting_user=plant_worker,
    )  # fmt: skip
    assert next_change(later) is None


def test_a_batch_only_planned_was_never_in_the_tank(plan):
    plan("phosphate")
    assert next_change(plan("calcium")) is None


def test_a_batch_cancelled_half_charged_leaves_contents_that_nobody_knows(plan, plant_worker):
    first = plan("phosphate")
    lots = lots_of(first, plant_worker)
    step = batch_steps(first)[0]
    charge_lot(
        batch=first, step=1, lot=lots.get(step.code), mass_lb=step.target_lb, key=new_key(),
        acting_user=plant_worker,
    )  # fmt: skip
    first.refresh_from_db()
    cancel_batch(batch=first, acting_user=plant_worker, why="pump broke")
    change = next_change(plan("calcium"))
    assert change.needs_look
    assert "look into it and sign" in change.words


def test_the_charging_screen_says_to_flush_before_the_first_weight(plan, plant_worker, signed_in):
    charged_and_made(plan("phosphate"), plant_worker)
    later = plan("calcium")
    lots_of(later, plant_worker)
    client = signed_in(plant_worker)
    assert "Flush first." in client.get(f"/batches/{later.number}/charge/").content.decode()
    page = client.get("/planning/").content.decode()
    assert "Flush first." in page
    assert "One flush is needed" in page
