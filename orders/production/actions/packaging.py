"""After the release: packages with serials, the balance of the batch, the rinse of its tank."""

from collections.abc import Sequence
from dataclasses import dataclass
from decimal import Decimal
from typing import Final

from django.db import transaction
from django.db.models import Sum
from django.utils import timezone

from blendshop.accounts.models import User
from blendshop.errors import BadInput, IllegalMove
from blendshop.figures.readers import house
from blendshop.roles import Role, require_role
from formulas.models import BaseStock, Mark
from orders.inventory.actions.lot_quality import Certificate
from orders.inventory.actions.lots import Delivery, receive_lot
from orders.inventory.holds import require_no_hold
from orders.models import Batch, BatchClosing, BatchPart, PackageSerial, StockLot, TankRinse
from orders.models.pounds import exact_pounds
from orders.production.actions.charging import already_written, locked, positive_pounds, require_key
from orders.production.as_made import as_made
from orders.production.steps import batch_steps, charged_lb
from orders.records.moves import note

PACKERS: Final = (Role.PLANT, Role.FORMULATOR)
#: A larger difference between charged and filled needs a word of where it went.
USUAL_LOSS_PCT: Final = Decimal(1)
#: The base stock that lots of kept rinse water belong to; made when the first is kept.
RINSE_CODE: Final = "RINSE"
RINSE_HELD: Final = (
    "Rinse water: its contents are an estimate from the residue that was left in the tank;"
    " release after an assay, for a blend of the same kind."
)
WATER_LB_PER_GAL: Final = 8.34


@dataclass(frozen=True, slots=True)
class Rinse:
    """What was rinsed: water in, product left in the tank before, lb; kept or disposed of."""

    water_lb: Decimal
    residue_lb: Decimal
    is_kept: bool
    location: str = ""
    note: str = ""


def fill_packages(
    *, part: BatchPart, net_lb: Sequence[Decimal], key: str, acting_user: User
) -> list[PackageSerial]:
    """One serial for each filled package of a part, with its net weight, of a released batch.

    Serials count through the whole batch, whatever the part.
    """
    require_role(acting_user, *PACKERS)
    require_key(key)
    masses = [positive_pounds(mass) for mass in net_lb]
    with transaction.atomic():
        batch = locked(part.batch)
        of_batch = PackageSerial.objects.filter(part__batch=batch)
        done = list(of_batch.filter(key__startswith=f"{key}:"))
        if done:
            return done
        _require_fillable(batch, part, masses)
        first = of_batch.count() + 1
        filled = [
            PackageSerial.objects.create(
                part=part,
                serial=f"{batch.number}-{number:02d}",
                net_lb=mass,
                key=f"{key}:{number}",
                by=acting_user,
                who=str(acting_user),
            )
            for number, mass in enumerate(masses, start=first)
        ]
        note(batch, acting_user=acting_user, why=f"Filled {len(filled)} packages.")
    return filled


def close_batch(*, batch: Batch, why: str, key: str, acting_user: User) -> BatchClosing:
    """Write the balance: charged, filled, not filled. A large difference needs a reason."""
    require_role(acting_user, *PACKERS)
    require_key(key)
    with transaction.atomic():
        batch = locked(batch)
        if done := already_written(BatchClosing, key):
            return done
        if BatchClosing.objects.filter(batch=batch).exists():
            raise IllegalMove(f"{batch.number} is already closed.")
        charged = in_tank_lb(batch)
        filled = filled_lb(batch)
        if not filled:
            raise IllegalMove(f"{batch.number} has no filled package yet.")
        loss = charged - filled
        if abs(loss) > charged * USUAL_LOSS_PCT / 100 and not why.strip():
            message = (
                f"{house().weighed(abs(loss))} {'were not filled' if loss > 0 else 'too much'}:"
                " say where the difference comes from."
            )
            raise BadInput(message, fields={"why": message})
        closing: BatchClosing = BatchClosing.objects.create(
            batch=batch,
            charged_lb=charged,
            filled_lb=filled,
            loss_lb=loss,
            why=why.strip(),
            key=key,
            by=acting_user,
            who=str(acting_user),
        )
        told = f"Closed: {house().every_digit(filled)} of {house().weighed(charged)} filled."
        note(batch, acting_user=acting_user, why=told)
    return closing


def record_rinse(*, batch: Batch, rinse: Rinse, key: str, acting_user: User) -> TankRinse:
    """Write down a rinse of the batch's tank; water that is kept becomes a held lot.

    The lot's contents are estimated: the residue's analysis as made, diluted by the water.
    """
    require_role(acting_user, *PACKERS)
    require_key(key)
    water = positive_pounds(rinse.water_lb)
    residue = _residue(rinse.residue_lb)
    with transaction.atomic():
        batch = locked(batch)
        if done := already_written(TankRinse, key):
            return done
        if batch.status in (Batch.Status.PLANNED, Batch.Status.CHARGING):
            raise IllegalMove(f"{batch.number} is not made yet; there is nothing to rinse out.")
        lot = None
        if rinse.is_kept:
            lot = _kept_water(batch, water + residue, residue, rinse.location, key, acting_user)
        written: TankRinse = TankRinse.objects.create(
            tank=batch.tank,
            batch=batch,
            water_lb=water,
            residue_lb=residue,
            destination=(
                TankRinse.Destination.KEPT if lot is not None else TankRinse.Destination.DISPOSED
            ),
            lot=lot,
            note=rinse.note,
            key=key,
            by=acting_user,
            who=str(acting_user),
        )
        where = f"kept as {lot.code}" if lot is not None else "to approved disposal"
        told = f"{batch.tank.name} rinsed with {house().weighed(water)} of water, {where}."
        note(batch, acting_user=acting_user, why=told)
    return written


def in_tank_lb(batch: Batch) -> Decimal:
    """What was charged; of a batch weighed from the printed ticket, what was planned."""
    charged = charged_lb(batch_steps(batch))
    return charged or exact_pounds(round(batch.target_lb, 3))


def filled_lb(batch: Batch) -> Decimal:
    """Net pounds in all packages of the batch."""
    packages = PackageSerial.objects.filter(part__batch=batch)
    return packages.aggregate(sum=Sum("net_lb"))["sum"] or Decimal(0)


def _require_fillable(batch: Batch, part: BatchPart, masses: Sequence[Decimal]) -> None:
    if batch.status != Batch.Status.RELEASED:
        raise IllegalMove(
            f"{batch.number} is {batch.get_status_display()}; only a released batch is filled."
        )
    require_no_hold([batch])
    if BatchClosing.objects.filter(batch=batch).exists():
        raise IllegalMove(f"{batch.number} is closed; nothing more is filled from it.")
    if not masses:
        raise BadInput("Fill at least one package.", fields={"count": "At least one."})
    package = part.order_line.package
    limit = None if package.max_gross_lb is None else package.max_gross_lb - package.tare_lb
    for mass in masses:
        if limit is not None and mass > limit:
            message = (
                f"{house().weighed(mass)} is more than a {package.name} may hold"
                f" ({house().weighed(limit)} without its own weight)."
            )
            raise BadInput(message, fields={"net_lb": message})


def _residue(residue_lb: Decimal) -> Decimal:
    try:
        residue = exact_pounds(residue_lb)
    except ValueError as error:
        raise BadInput(str(error), fields={"residue_lb": str(error)}) from error
    if residue < 0:
        message = "A tank does not hold less than nothing."
        raise BadInput(message, fields={"residue_lb": message})
    return residue


def _kept_water(
    batch: Batch, mass: Decimal, residue: Decimal, location: str, key: str, acting_user: User
) -> StockLot:
    made = as_made(batch, batch_steps(batch))
    analysis = batch.load_plan.analysis if made is None else made.analysis
    density = batch.load_plan.density_lb_per_gal if made is None else made.density_lb_per_gal
    share = float(residue / mass)
    blended = 1 / (share / density + (1 - share) / WATER_LB_PER_GAL)
    return receive_lot(
        delivery=Delivery(
            stock=_rinse_stock(),
            mass_lb=mass,
            received_on=timezone.localdate(),
            supplier="our own tank rinse",
            supplier_lot=batch.number,
            location=location,
        ),
        certificate=Certificate(
            source=f"estimate: {house().weighed(residue)} of {batch.number} in the rinse water",
            figures={
                code: round(pct * share, 6)
                for code, pct in analysis.items()
                if code != "N" and pct > 0
            },
            density_lb_per_gal=round(blended, 4),
            density_temp_f=batch.load_plan.density_window.temperature_f,
        ),
        held_reason=RINSE_HELD,
        key=f"rinse:{key}",
        acting_user=acting_user,
    )


def _rinse_stock() -> BaseStock:
    """The catalogue's rinse water; it has no typical analysis, each lot brings its own.

    It has no cost, so no recipe is ever solved with it: a formulator decides where a lot goes.
    """
    stock, _ = BaseStock.objects.get_or_create(
        code=RINSE_CODE,
        defaults={
            "name": "tank rinse water",
            "density_lb_per_gal": WATER_LB_PER_GAL,
            "density_source": "water at 60 °F, IAPWS-95; each lot has its own figure",
            "density_mark": Mark.COMPUTED,
            "charging_rank": 10,
            "notes": "Lots come from rinsing tanks; each has the analysis of its own batch.",
        },
    )
    return stock
