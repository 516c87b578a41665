"""A planned batch and lots to charge it from: the shortest road, for tests of the plant floor."""

import uuid
from decimal import Decimal

from django.utils import timezone

from formulas.models import BaseStock
from orders.inventory.actions.lot_quality import Certificate
from orders.inventory.actions.lots import Delivery, receive_lot
from orders.models import Batch, StockLot, Tank
from orders.planning.actions.planning import plan_batches
from orders.production.actions.batches import mark_made
from orders.production.actions.charging import charge_lot
from orders.production.actions.paper_ticket import PaperWeight, made_from_paper
from orders.production.actions.quality import record_reading
from orders.production.confirmations import Question
from orders.production.release_checks import Reading
from orders.production.steps import batch_steps
from orders.tanks.actions.draining import drain_tank
from tests.orders.inventory.stock_cases import as_typed
from tests.orders.planning.plant_cases import make_shop, placed_order

#: Every question a weight is asked, answered with yes.
MEANT = frozenset(Question)


def new_key():
    return uuid.uuid4().hex


def planned_batch(rep, company, worker, *, quantity=2, **more) -> Batch:
    """A batch of the half-slow blend in Tank 1; the shop must not exist yet."""
    make_shop()
    order = placed_order(rep, company, quantity=quantity, **more)
    (batch,) = plan_batches(order=order, tank=Tank.objects.get(), acting_user=worker)
    return batch


def received(code, by, mass_lb=50_000, **certificate) -> StockLot:
    source = {"source": "CoA 1"} if certificate else {}
    return receive_lot(
        delivery=Delivery(
            stock=BaseStock.objects.get(code=code),
            mass_lb=Decimal(mass_lb),
            received_on=timezone.localdate(),
        ),
        certificate=Certificate(**source, **certificate) if certificate else None,
        acting_user=by,
        key=new_key(),
        again=as_typed(mass_lb, **certificate),
    )


def drained(tank, by, heel_gal=None):
    """The tank is drained to its usual heel, or to what was measured, wherever it went."""
    return drain_tank(
        tank=tank, heel_gal=heel_gal, note="into totes", key=new_key(), acting_user=by
    )


def lots_of(batch, by) -> dict[str, StockLot]:
    """A plentiful lot of each stock of the plan but water, which comes from the main."""
    return {step.code: received(step.code, by) for step in batch_steps(batch) if not step.is_water}


def charge_all(batch, lots, by, *, off_lb=None) -> None:
    """Everything of the plan to the pound; ``off_lb`` shifts stocks by their code, however far."""
    for step in batch_steps(batch):
        if step.charges:
            continue
        charge_lot(
            batch=batch,
            step=step.number,
            lot=lots.get(step.code),
            mass_lb=step.target_lb + (off_lb or {}).get(step.code, 0),
            key=new_key(),
            acting_user=by,
            confirmed=MEANT,
        )
    batch.refresh_from_db()


def reading_of(batch, **changed) -> Reading:
    """A reading in the middle of the plan's windows, at their own temperature."""
    window = batch.load_plan.density_window
    figures = {
        "density_lb_per_gal": (window.low_lb_per_gal + window.high_lb_per_gal) / 2,
        "temperature_f": window.temperature_f,
        "ph": None,
        "appearance": "clear",
    }
    return Reading(**(figures | changed))


def charged_and_made(batch, by, **more) -> None:
    """From plentiful lots of its own, and mixed."""
    charge_all(batch, lots_of(batch, by), by, **more)
    mark_made(batch=batch, acting_user=by)
    batch.refresh_from_db()


def made_by_ticket(batch, by) -> None:
    """Weighed to the pound from the printed ticket, from plentiful lots of its own."""
    lots = lots_of(batch, by)
    weights = [
        PaperWeight(str(step.number), step.number, lots.get(step.code), step.target_lb)
        for step in batch_steps(batch)
    ]
    made_from_paper(batch=batch, weights=weights, key=new_key(), acting_user=by)
    batch.refresh_from_db()


def made_uncharged(batch, by) -> None:
    """As batches were made before weights had to be written down: for tests of what comes after.

    No action does this any more.
    """
    was, to = batch.status, Batch.Status.MADE
    Batch.objects.filter(pk=batch.pk).update(status=to)
    batch.refresh_from_db()
    batch.events.create(by=by, who=str(by), from_status=was, to_status=to)


def read_density(batch, by, **changed):
    written = record_reading(
        batch=batch, reading=reading_of(batch, **changed), key=new_key(), acting_user=by
    )
    batch.refresh_from_db()
    return written
