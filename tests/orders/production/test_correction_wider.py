"""Corrections keep what was wanted at most, and look beyond the recipe when its stocks are out."""

from dataclasses import replace
from decimal import Decimal

import pytest

from blendshop.errors import NotAllowed
from formulas.engine.label.assay_check import Verdict
from orders.labels.batch_label import batch_label
from orders.models import Tank
from orders.planning.actions.planning import plan_batches
from orders.production.actions.batches import mark_made
from orders.production.actions.charging import charge_lot
from orders.production.actions.corrections import accept_correction
from orders.production.as_made import as_made
from orders.production.corrections import proposal
from orders.production.steps import batch_steps
from tests.factories import BaseStockFactory, today
from tests.orders.planning.plant_cases import (
    WISH,
    freeze_otherwise,
    make_shop,
    placed_order,
    save_half_slow,
)
from tests.orders.production.charging_cases import (
    MEANT,
    charge_all,
    lots_of,
    new_key,
    received,
)


def too_much_water(batch, by, over_lb):
    water = batch_steps(batch)[0]
    charge_lot(
        batch=batch, step=1, lot=None, mass_lb=water.target_lb + over_lb, key=new_key(),
        acting_user=by, confirmed=MEANT,
    )  # fmt: skip
    batch.refresh_from_db()


def proposed(batch):
    return proposal(batch, batch_steps(batch), today())


def charge_exactly(batch, by, *, but=()):
    """Everything of the plan from lots that hold just that and are empty then."""
    lots = {
        step.code: received(step.code, by, step.target_lb)
        for step in batch_steps(batch)
        if not step.is_water and step.code not in but
    }
    charge_all(batch, lots, by)


def with_most(batch, **maxima):
    freeze_otherwise(batch, promised=replace(batch.load_plan.promised, maxima_pct=maxima))


def test_a_plan_freezes_what_the_customer_wanted_at_most(rep, company, plant_worker):
    make_shop()
    wish = {
        **WISH,
        "targets": [{"nutrient": "N", "min": 24}, {"nutrient": "K2O", "min": 3, "max": 3.4}],
        "slow_release_pct": {"min": 50, "max": 55},
    }
    revision = save_half_slow(rep, company, wish=wish)
    order = placed_order(rep, company, quantity=2, revision=revision)
    (batch,) = plan_batches(order=order, tank=Tank.objects.get(), acting_user=plant_worker)
    assert batch.load_plan.promised.maxima_pct == {"K2O": 3.4}
    assert batch.load_plan.promised.slow_release_max_pct == 55


def test_a_correction_keeps_the_maxima_where_it_can(batch, plant_worker):
    lots_of(batch, plant_worker)
    with_most(batch, **{"N.nitrate": batch.load_plan.analysis["N.nitrate"] + 0.02})
    too_much_water(batch, plant_worker, 100)
    found = proposed(batch)
    assert found.helps
    assert found.outside == ()


def test_a_maximum_that_cannot_be_kept_is_said(batch, plant_worker):
    lots_of(batch, plant_worker)
    # Half of 24 % nitrogen is to be slow: less than 12 % of it cannot be.
    with_most(batch, **{"N.slow": 11.7})
    too_much_water(batch, plant_worker, 100)
    found = proposed(batch)
    assert found.helps
    assert found.outside
    assert all("at most" in words for words in found.outside)


@pytest.fixture
def other(batch):
    """A stock of the plant that the recipe does not use and that could mend it."""
    return BaseStockFactory(
        code="MEND",
        name="Mending stock",
        density_lb_per_gal=10.6,
        analysis={"N.urea": 14.0, "N.slow": 15.0, "K2O": 9.0},
        derived_from="methylene urea",
        cost_per_lb="0.9000",
    )


def test_another_stock_mends_a_tank_when_the_recipe_s_own_are_used_up(
    batch, other, plant_worker, formulator
):
    received("MEND", plant_worker)
    too_much_water(batch, plant_worker, 100)
    charge_exactly(batch, plant_worker)
    found = proposed(batch)
    assert [stock.code for stock in found.new_stocks] == ["MEND"]
    with pytest.raises(NotAllowed, match="a formulator decides"):
        accept_correction(batch=batch, seen=found.digest, key=new_key(), acting_user=plant_worker)
    (added,) = accept_correction(
        batch=batch, seen=found.digest, key=new_key(), acting_user=formulator
    )
    assert (added.weighing.code, added.weighing.weight_lb) == ("MEND", added.weight_lb)
    assert added.weighing.derived_from == "methylene urea"
    lot = received("MEND", plant_worker)
    step = batch_steps(batch)[-1]
    charge_lot(
        batch=batch, step=step.number, lot=lot, mass_lb=step.target_lb, key=new_key(),
        acting_user=plant_worker,
    )  # fmt: skip
    made = as_made(batch, batch_steps(batch))
    assert {check.verdict for check in made.guarantees} == {Verdict.MEETS}
    batch.refresh_from_db()
    mark_made(batch=batch, acting_user=plant_worker)
    batch.refresh_from_db()
    sources = batch_label(batch.parts.get()).draft.derived_from
    assert any("methylene urea" in source.lower() for source in sources)


def test_the_recipe_s_own_stocks_come_first(batch, other, plant_worker):
    received("MEND", plant_worker)
    lots_of(batch, plant_worker)
    too_much_water(batch, plant_worker, 100)
    assert proposed(batch).new_stocks == ()


def test_what_has_no_lot_is_not_brought_in(batch, other, plant_worker):
    too_much_water(batch, plant_worker, 100)
    charge_exactly(batch, plant_worker)
    assert not proposed(batch).additions  # no lot of MEND
    received("MEND", plant_worker, Decimal(20_000))
    assert proposed(batch).additions
