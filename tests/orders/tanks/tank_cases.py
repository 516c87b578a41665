"""Batches one after the other in one tank, for tests of what the tank remembers."""

from decimal import Decimal

from orders.models import Batch, Tank
from orders.planning.actions.planning import plan_batches
from orders.production.actions.batches import release_batch
from orders.production.actions.packaging import close_batch, fill_packages
from orders.tanks.actions.looking import Found, Looked, look_and_sign
from tests.orders.planning.plant_cases import placed_order
from tests.orders.production.charging_cases import charged_and_made, new_key, read_density


def sign(tank, by, found=Found.EMPTY, **more):
    return look_and_sign(tank=tank, looked=Looked(found, **more), key=new_key(), acting_user=by)


def another(rep, company, by, revision, quantity=1) -> Batch:
    """One more load of the blend in the plant's only tank."""
    order = placed_order(rep, company, revision=revision, quantity=quantity)
    (batch,) = plan_batches(order=order, tank=Tank.objects.get(name="Tank 1"), acting_user=by)
    return batch


def make_and_fill(batch, by, *, heel_lb, lots=None) -> None:
    """Charged, released, filled but for ``heel_lb``, and closed with that measured in the tank."""
    if lots is None:
        charged_and_made(batch, by)
    read_density(batch, by)
    release_batch(batch=batch, acting_user=by)
    batch.refresh_from_db()
    held_lb = batch.tank.ledger.order_by("-pk").first().held.mass_lb
    filled = Decimal(str(round(held_lb, 3))) - Decimal(heel_lb)
    fill_packages(part=batch.parts.get(), net_lb=[filled], key=new_key(), acting_user=by)
    close_batch(batch=batch, why="", heel_lb=Decimal(heel_lb), key=new_key(), acting_user=by)
