"""A tank remembers: what is in it, signed; what is in it decides what may be charged."""

import pytest
from django.db import IntegrityError, transaction

from blendshop.errors import BadInput, IllegalMove, NotAllowed
from blendshop.immutable import WrittenOnce
from orders.frozen.tank_contents import TankState
from orders.models import TankEntry
from orders.production.actions.batches import cancel_batch, mark_made
from orders.production.actions.charging import charge_lot, reverse_charge
from orders.production.actions.paper_ticket import PaperTicketRefused
from orders.production.steps import batch_steps
from orders.tanks.actions.draining import drain_tank
from orders.tanks.actions.looking import Found, Looked, look_and_sign
from orders.tanks.actions.rinsing import Rinse, record_rinse
from orders.tanks.heel import EmptyTank, HeelLeft, UnknownTank, heel_of
from tests.factories import TankFactory
from tests.orders.production.charging_cases import (
    charge_all,
    charged_and_made,
    drained,
    lots_of,
    made_by_ticket,
    new_key,
)
from tests.orders.tanks.tank_cases import make_and_fill, sign

OTHER = {
    "product": "last year's special",
    "volume_gal": 100.0,
    "density_lb_per_gal": 10.0,
    "analysis": {"N.urea": 20.0},
}


def first_charge(batch, by):
    step = batch_steps(batch)[0]
    return charge_lot(
        batch=batch, step=1, lot=lots_of(batch, by).get(step.code), mass_lb=step.target_lb,
        key=new_key(), acting_user=by,
    )  # fmt: skip


def kinds(tank):
    return [entry.kind for entry in tank.ledger.all()]


def rinse(tank, by, *, is_kept=False, **more):
    return record_rinse(
        tank=tank, rinse=Rinse(300, 10, is_kept=is_kept), key=new_key(), acting_user=by, **more
    )


def test_a_tank_nobody_has_signed_is_not_known_and_takes_no_batch(load, plant_worker):
    batch = load()
    batch.tank = unsigned = TankFactory(name="Old tank", signed=False)
    batch.save()
    assert isinstance(heel_of(unsigned), UnknownTank)
    with pytest.raises(IllegalMove, match=r"Nobody has signed what is in Old tank\. Look into it"):
        first_charge(batch, plant_worker)
    batch.refresh_from_db()
    assert batch.status == "planned"
    with pytest.raises(PaperTicketRefused) as refused:
        made_by_ticket(batch, plant_worker)
    assert "Nobody has signed" in refused.value.reasons["1"].message
    sign(unsigned, plant_worker)
    first_charge(batch, plant_worker)
    assert kinds(unsigned) == ["looked", "begun"]


def test_a_batch_begun_before_there_was_a_ledger_goes_on_and_is_in_its_tank(load, plant_worker):
    batch = load()
    batch.tank, batch.status = TankFactory(name="Old tank", signed=False), "charging"
    batch.save()
    charge_all(batch, lots_of(batch, plant_worker), plant_worker)
    mark_made(batch=batch, acting_user=plant_worker)
    assert kinds(batch.tank) == ["finished"]
    assert heel_of(batch.tank).batch_numbers == (batch.number,)


def test_a_rinse_settles_a_tank_nobody_knows_and_its_water_is_not_kept(tank, plant_worker):
    sign(tank, plant_worker, Found.UNKNOWN, note="brown, smells of ammonia")
    assert isinstance(heel_of(tank), UnknownTank)
    with pytest.raises(IllegalMove, match="approved disposal"):
        rinse(tank, plant_worker, is_kept=True)
    rinse(tank, plant_worker)
    assert isinstance(heel_of(tank), EmptyTank)


def test_from_the_first_charge_to_the_rinse_every_step_is_in_the_ledger(load, tank, plant_worker):
    batch = load()
    make_and_fill(batch, plant_worker, heel_lb=90)
    rinse(tank, plant_worker, batch=batch)
    assert kinds(tank) == ["looked", "begun", "finished", "drained", "rinsed"]
    states = [entry.held.state for entry in tank.ledger.all()]
    assert states == [
        TankState.EMPTY, TankState.CHARGING, TankState.BATCH, TankState.HEEL, TankState.EMPTY,
    ]  # fmt: skip
    assert {entry.who for entry in tank.ledger.exclude(kind="looked")} == {"Pat Plant"}


def test_a_batch_that_is_in_the_tank_keeps_every_other_out_until_it_is_drained(
    load, tank, plant_worker
):
    first, second = load(), load()
    charged_and_made(first, plant_worker)
    refused = f"Tank 1 holds {first.number} .made.: fill or drain it before {second.number}"
    with pytest.raises(IllegalMove, match=refused):
        first_charge(second, plant_worker)
    with pytest.raises(PaperTicketRefused):
        made_by_ticket(second, plant_worker)
    with pytest.raises(IllegalMove, match="fill or drain it before the tank is rinsed"):
        rinse(tank, plant_worker)
    drained(tank, plant_worker)
    first_charge(second, plant_worker)
    with pytest.raises(IllegalMove, match="finish it, or cancel it"):
        drained(tank, plant_worker)


def test_a_batch_may_be_corrected_in_the_tank_that_it_is_in(load, tank, plant_worker):
    """Charged on after it was made, it does not stand in its own way; it is finished anew."""
    batch = load()
    charged_and_made(batch, plant_worker)
    charge = batch.charges.order_by("pk").first()
    reverse_charge(charge=charge, why="typed wrongly", key=new_key(), acting_user=plant_worker)
    batch.refresh_from_db()
    charge_all(batch, lots_of(batch, plant_worker), plant_worker)
    mark_made(batch=batch, acting_user=plant_worker)
    assert kinds(tank) == ["looked", "begun", "finished", "finished"]


def test_a_batch_given_up_half_charged_leaves_a_tank_that_somebody_has_to_look_into(
    load, tank, plant_worker
):
    first, second = load(), load()
    first_charge(first, plant_worker)
    first.refresh_from_db()
    cancel_batch(batch=first, acting_user=plant_worker, why="pump broke")
    with pytest.raises(IllegalMove, match=r"was begun in Tank 1 and cancelled\. Look into it"):
        first_charge(second, plant_worker)
    sign(tank, plant_worker, Found.HEEL, batch=first, volume_gal=5.0)
    first_charge(second, plant_worker)
    assert [row.of for row in second.heel_came_from.all()] == [first]


def test_a_batch_found_in_a_tank_occupies_it_while_it_can_still_be_filled(load, tank, plant_worker):
    first, second = load(), load()
    charged_and_made(first, plant_worker)
    drained(tank, plant_worker)
    sign(tank, plant_worker, Found.BATCH, batch=first, volume_gal=200.0)
    with pytest.raises(IllegalMove, match="fill or drain it"):
        first_charge(second, plant_worker)


def test_something_else_is_signed_with_its_analysis_and_can_be_charged_onto(
    load, tank, plant_worker
):
    sign(tank, plant_worker, Found.OTHER, **OTHER)
    found = heel_of(tank)
    assert isinstance(found, HeelLeft)
    assert (found.heel.mass_lb, found.heel.volume_gal) == (1000.0, 100.0)
    assert found.heel.analysis == {"N.urea": 20.0}
    assert not found.knows_stocks
    first_charge(load(), plant_worker)


@pytest.mark.parametrize(
    ("looked", "field"),
    [
        (Looked(Found.BATCH, volume_gal=5.0), "batch"),
        (Looked(Found.HEEL), "batch"),
        (Looked(Found.UNKNOWN), "note"),
        (Looked(Found.OTHER, **(OTHER | {"product": " "})), "product"),
        (Looked(Found.OTHER, **(OTHER | {"volume_gal": None})), "volume_gal"),
        (Looked(Found.OTHER, **(OTHER | {"volume_gal": 1201.0})), "volume_gal"),
        (Looked(Found.OTHER, **(OTHER | {"density_lb_per_gal": 4.9})), "density_lb_per_gal"),
        (Looked(Found.OTHER, **(OTHER | {"analysis": {"N": 20.0}})), "analysis"),
        (Looked(Found.OTHER, **(OTHER | {"analysis": {"K2O": 101.0}})), "analysis"),
    ],
)
def test_what_was_found_is_said_completely_or_not_at_all(tank, plant_worker, looked, field):
    before = tank.ledger.count()
    with pytest.raises(BadInput) as refused:
        look_and_sign(tank=tank, looked=looked, key=new_key(), acting_user=plant_worker)
    assert set(refused.value.fields) == {field}
    assert tank.ledger.count() == before


def test_a_batch_does_not_vanish_from_its_tank_by_a_signature(load, tank, plant_worker):
    batch = load()
    first_charge(batch, plant_worker)
    with pytest.raises(IllegalMove, match="is being charged in Tank 1; finish or cancel it"):
        sign(tank, plant_worker)
    batch.refresh_from_db()
    charge_all(batch, lots_of(batch, plant_worker), plant_worker)
    mark_made(batch=batch, acting_user=plant_worker)
    with pytest.raises(BadInput, match="not released: say where it went"):
        sign(tank, plant_worker)
    sign(tank, plant_worker, note="pumped out, spoiled")
    assert isinstance(heel_of(tank), EmptyTank)


def test_a_batch_that_left_its_tank_is_not_charged_on_while_another_is_in_it(
    load, tank, plant_worker
):
    first, second = load(), load()
    charged_and_made(first, plant_worker)
    charge = first.charges.order_by("pk").first()
    reverse_charge(charge=charge, why="typed wrongly", key=new_key(), acting_user=plant_worker)
    first.refresh_from_db()
    drained(tank, plant_worker)
    first_charge(second, plant_worker)
    with pytest.raises(IllegalMove, match=f"Tank 1 holds {second.number}"):
        charge_lot(
            batch=first, step=1, lot=None, mass_lb=5, key=new_key(), acting_user=plant_worker
        )


def test_a_batch_that_was_never_in_a_tank_is_not_found_in_one(load, tank, plant_worker):
    with pytest.raises(BadInput, match="only planned"):
        sign(tank, plant_worker, Found.BATCH, batch=load(), volume_gal=10.0)


def test_an_unreleased_batch_is_drained_only_with_a_word_of_where_it_went(load, tank, plant_worker):
    charged_and_made(load(), plant_worker)
    with pytest.raises(BadInput, match="say where it went"):
        drain_tank(tank=tank, heel_gal=None, note="", key=new_key(), acting_user=plant_worker)
    with pytest.raises(BadInput, match="between nothing and that"):
        drained(tank, plant_worker, heel_gal=300.0)
    drained(tank, plant_worker, heel_gal=3.0)
    assert heel_of(tank).heel.volume_gal == pytest.approx(3.0)


@pytest.mark.parametrize("who", ["rep", "office", "customer"])
def test_the_tanks_are_written_by_the_plant_and_the_formulator(request, tank, who):
    user = request.getfixturevalue(who)
    for write in (
        lambda: sign(tank, user),
        lambda: drained(tank, user),
        lambda: rinse(tank, user),
    ):
        with pytest.raises(NotAllowed):
            write()
    assert kinds(tank) == ["looked"]


def test_what_is_sent_twice_is_written_once(tank, plant_worker):
    key = new_key()
    first, second = (
        look_and_sign(tank=tank, looked=Looked(Found.EMPTY), key=key, acting_user=plant_worker)
        for _ in range(2)
    )
    assert first == second
    assert kinds(tank) == ["looked", "looked"]


def test_an_entry_is_final_and_signed(tank, plant_worker):
    entry = sign(tank, plant_worker)
    entry.note = "changed my mind"
    with pytest.raises(WrittenOnce):
        entry.save()
    with pytest.raises(WrittenOnce):
        TankEntry.objects.all().delete()
    with pytest.raises(IntegrityError), transaction.atomic():
        TankEntry.objects.create(
            tank=tank, kind="looked", contents={"state": "empty"}, key="unsigned-entry", who=""
        )
