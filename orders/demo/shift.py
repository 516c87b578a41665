"""What the invented plant's shift signed: a batch made, scales, a cleaning, samples, a note."""

from datetime import timedelta
from decimal import Decimal
from typing import Final

from django.utils import timezone

from blendshop.accounts.models import User
from blendshop.roles import Role
from formulas.engine.plant.load import ScaleKind
from orders.demo import plant
from orders.models import Batch, StockLot, Tank, TankCleaning
from orders.production.actions.batches import mark_made, release_batch
from orders.production.actions.charging import charge_lot
from orders.production.actions.quality import record_reading
from orders.production.release_checks import Reading
from orders.production.steps import batch_steps
from orders.scales.actions import Verified, record_verification
from orders.shift.actions.cleaning import sign_cleaning
from orders.shift.actions.handover import write_note
from orders.shift.actions.samples import Taken, take_sample
from orders.shift.samples import KEEP_DAYS
from orders.tanks.heel import newest_entry

#: Tank, scale, days ago, known load and reading in lb. The first is overdue by the plant's setting.
_VERIFIED: Final = (
    (0, ScaleKind.MAIN, 45, "2000", "2001"),
    (0, ScaleKind.FINE, 3, "50", "50"),
    (1, ScaleKind.MAIN, 3, "2000", "2002"),
)


def make_and_release(batch: Batch, worker: User) -> None:
    """Charged to the pound, read in the middle of its window, released."""
    for step in batch_steps(batch):
        charge_lot(
            batch=batch,
            step=step.number,
            lot=_lot_of(step.code),
            mass_lb=step.target_lb,
            key=f"demo-charge-{batch.pk}-{step.number}",
            acting_user=worker,
        )
    batch.refresh_from_db()
    mark_made(batch=batch, acting_user=worker)
    window = batch.load_plan.density_window
    record_reading(
        batch=batch,
        reading=Reading(
            density_lb_per_gal=(window.low_lb_per_gal + window.high_lb_per_gal) / 2,
            temperature_f=window.temperature_f,
            ph=None,
            appearance="clear",
            note="Demo data.",
        ),
        key=f"demo-reading-{batch.pk}",
        acting_user=worker,
    )
    release_batch(batch=batch, acting_user=worker)


def _lot_of(code: str) -> StockLot | None:
    of_stock = StockLot.objects.filter(stock__code=code, state=StockLot.State.OK)
    return of_stock.in_order_of_use().first()


def sign_the_day(staff: dict[Role, User], made: Batch) -> None:
    """Everything beside the batches that the day shows."""
    worker, now = staff[Role.PLANT], timezone.now()
    tanks = [Tank.objects.get(name=tank["name"]) for tank in plant.TANKS]
    for number, kind, days, load, reading in _VERIFIED:
        record_verification(
            tank=tanks[number],
            kind=kind,
            verified=Verified(
                loads=[(Decimal(load), Decimal(reading))],
                weights="demo weights, invented",
                checked_at=now - timedelta(days=days),
                note="Demo data.",
            ),
            key=f"demo-scale-{number}-{kind.value}",
            acting_user=worker,
        )
    entry = newest_entry(tanks[1])
    sign_cleaning(
        tank=tanks[1],
        how=TankCleaning.How.RINSED,
        seen_entry=entry.pk if entry else None,
        note="Demo data.",
        key="demo-cleaning",
        acting_user=worker,
    )
    for bottle, kept_days in (("A", KEEP_DAYS), ("B", 0)):
        taken = now - timedelta(days=1 if kept_days == 0 else 0)
        take_sample(
            batch=made,
            taken=Taken(
                taken_at=taken,
                kept_in=f"demo sample shelf, bottle {bottle}",
                keep_until=timezone.localdate(taken) + timedelta(days=kept_days),
                note="Demo data.",
            ),
            key=f"demo-sample-{bottle}",
            acting_user=worker,
        )
    write_note(
        shift="early",
        text=(
            f"Demo note. {made.number} is released and still in {made.tank.name}: fill its tote"
            " first. The main scale of the small tank is due for its test weights."
        ),
        key="demo-note",
        acting_user=worker,
    )
