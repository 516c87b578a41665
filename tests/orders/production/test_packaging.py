"""After the release: serials, the balance of the batch, and the water of the rinse."""

from decimal import Decimal

import pytest
from django.db import IntegrityError, transaction

from blendshop.errors import BadInput, IllegalMove, NotAllowed
from orders.models import BatchClosing, PackageSerial, StockLot, TankRinse
from orders.production.actions.packaging import (
    charged_or_planned_lb,
    close_batch,
    fill_packages,
    stays_in_tank_lb,
)
from orders.production.filling import filling_parts
from orders.tanks.actions.rinsing import Rinse, record_rinse
from tests.orders.production.charging_cases import drained, new_key


def made_gal(batch):
    """Gallons of the plan's weights by ideal mixing."""
    return sum(step.weight_lb / step.density_lb_per_gal for step in batch.load_plan.steps)


def fill(batch, by, *masses, key=None):
    return fill_packages(
        part=batch.parts.get(),
        net_lb=[Decimal(m) for m in masses],
        key=key or new_key(),
        acting_user=by,
    )


def test_every_package_has_a_serial_of_its_own_and_a_repeat_fills_none(released, plant_worker):
    key = new_key()
    first = fill(released, plant_worker, 2800, 2790, key=key)
    assert [p.serial for p in first] == [f"{released.number}-01", f"{released.number}-02"]
    assert fill(released, plant_worker, 2800, 2790, key=key) == first
    (third,) = fill(released, plant_worker, 100)
    assert third.serial == f"{released.number}-03"
    assert PackageSerial.objects.count() == 3
    with pytest.raises(IntegrityError), transaction.atomic():
        PackageSerial.objects.create(
            part=released.parts.get(), serial=third.serial, net_lb=Decimal(1), key="again", who="x"
        )


def test_nothing_is_filled_before_the_release(measured, plant_worker):
    with pytest.raises(IllegalMove, match="released"):
        fill(measured, plant_worker, 2800)


def test_a_package_is_never_filled_above_what_it_may_weigh(released, plant_worker):
    with pytest.raises(BadInput, match="more than a 265 gal tote"):
        fill(released, plant_worker, 4071)  # 4,200 gross less 130 of the tote
    fill(released, plant_worker, 4070)


@pytest.mark.parametrize("who", ["rep", "office", "customer"])
def test_filling_is_the_plant_s(request, released, who):
    with pytest.raises(NotAllowed):
        fill(released, request.getfixturevalue(who), 100)


def test_a_closed_batch_balances_and_a_large_loss_says_where_it_went(released, plant_worker):
    charged = Decimal(str(released.load_plan.mass_lb))
    fill(released, plant_worker, 2700, 2700)
    with pytest.raises(BadInput, match="say where"):
        close_batch(batch=released, why="", key=new_key(), acting_user=plant_worker)
    closing = close_batch(
        batch=released, why="left in the hose", key=new_key(), acting_user=plant_worker
    )
    assert closing.charged_lb == charged
    assert closing.filled_lb == 5400
    usual_lb = round(12 * charged / Decimal(str(made_gal(released))), 3)  # 1 % of 1,200 gal
    assert closing.heel_left_lb == pytest.approx(usual_lb, abs=Decimal("0.01"))
    assert closing.loss_lb == charged - 5400 - closing.heel_left_lb
    with pytest.raises(IllegalMove, match="already closed"):
        close_batch(batch=released, why="x", key=new_key(), acting_user=plant_worker)
    with pytest.raises(IllegalMove, match="closed"):
        fill(released, plant_worker, 100)


def test_a_small_loss_needs_no_word_and_a_batch_without_packages_is_not_closed(
    released, plant_worker
):
    with pytest.raises(IllegalMove, match="no filled package"):
        close_batch(batch=released, why="", key=new_key(), acting_user=plant_worker)
    charged = Decimal(str(released.load_plan.mass_lb))
    fill(released, plant_worker, charged / 2, charged / 2 - 20)
    key = new_key()
    for _ in range(2):
        close_batch(batch=released, why="", key=key, acting_user=plant_worker)
    closing = BatchClosing.objects.get()
    assert (closing.heel_left_lb, closing.loss_lb) == (20, 0)  # less than the usual heel


def test_filling_is_suggested_of_what_is_left_and_not_of_the_heel_that_stays(
    released, plant_worker
):
    charged = charged_or_planned_lb(released)
    (whole,) = filling_parts(released, charged)
    assert 2 * whole.each_lb <= charged
    fill(released, plant_worker, 3500)
    heel_gal = 100.0
    drained(released.tank, plant_worker, heel_gal)
    stays = stays_in_tank_lb(released)
    assert stays == pytest.approx(Decimal(heel_gal) * charged / Decimal(str(made_gal(released))))
    (rest,) = filling_parts(released, charged, stays)
    assert rest.to_fill == 1
    assert rest.each_lb == pytest.approx(charged - 3500 - stays, abs=Decimal("0.1"))
    assert rest.each_lb <= charged - 3500 - stays


def test_kept_rinse_water_is_a_held_lot_with_the_residue_s_contents(released, plant_worker):
    drained(released.tank, plant_worker)
    key = new_key()
    for _ in range(2):
        rinse = record_rinse(
            tank=released.tank,
            batch=released,
            rinse=Rinse(Decimal(380), Decimal(20), is_kept=True, location="tote R1"),
            key=key,
            acting_user=plant_worker,
        )
    lot = StockLot.objects.get(stock__code="RINSE")
    assert rinse.lot == lot
    assert TankRinse.objects.count() == 1
    assert lot.state == "held"
    assert lot.on_hand_lb == 400
    potash = released.load_plan.analysis["K2O"]
    assert lot.analysis()["K2O"] == pytest.approx(potash * 20 / 400, rel=1e-4)
    assert 8.34 < lot.density() < released.load_plan.density_lb_per_gal


def test_disposed_rinse_water_is_written_down_and_is_no_stock(released, plant_worker):
    drained(released.tank, plant_worker)
    rinse = record_rinse(
        tank=released.tank,
        batch=released,
        rinse=Rinse(Decimal(200), Decimal(0), is_kept=False),
        key=new_key(),
        acting_user=plant_worker,
    )
    assert rinse.destination == "disposed"
    assert not StockLot.objects.filter(stock__code="RINSE").exists()
    assert "approved disposal" in released.events.last().why
