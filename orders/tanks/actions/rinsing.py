"""A tank is rinsed: it is empty afterwards, and its water is a lot or goes to disposal."""

from dataclasses import dataclass
from decimal import Decimal
from typing import Final

from django.db import transaction
from django.utils import timezone
from django.utils.translation import gettext

from blendshop.accounts.models import User
from blendshop.errors import BadInput, IllegalMove
from blendshop.figures.readers import house
from blendshop.roles import require_role
from formulas.engine.plant.as_made_density import REFERENCE_F
from formulas.models import BaseStock, Mark
from orders.frozen.tank_contents import TankContents, TankState
from orders.inventory.actions.lot_quality import Certificate
from orders.inventory.actions.lots import Delivery, receive_lot
from orders.models import Batch, StockLot, Tank, TankEntry, TankRinse
from orders.models.pounds import exact_pounds
from orders.records.moves import note
from orders.tanks.actions.ledger import WRITERS, locked, require_key, write_entry
from orders.tanks.heel import BY_PLAN, UnknownTank, heel_after, newest_entry
from orders.tanks.mixing import mixed, planned_portions, under

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


def record_rinse(
    *, tank: Tank, rinse: Rinse, key: str, acting_user: User, batch: Batch | None = None
) -> TankRinse:
    """Write down a rinse; the tank is empty and rinsed, water that is kept becomes a held lot.

    The lot's contents are estimated: what the ledger says was in the tank, diluted by the water.
    ``batch`` is given on its own page, and must be what was last in the tank. IllegalMove while
    a batch is in it, or when water of unknown contents is to be kept.
    """
    require_role(acting_user, *WRITERS)
    require_key(key)
    water = _pounds(rinse.water_lb, "water_lb", "A rinse takes water.", least=Decimal("0.001"))
    residue = _pounds(rinse.residue_lb, "residue_lb", "A tank does not hold less than nothing.")
    with transaction.atomic():
        tank = locked(tank)
        done: TankRinse | None = TankRinse.objects.filter(key=key).first()
        if done is not None:
            return done
        held, last = _rinsable(tank, batch)
        lot = None
        if rinse.is_kept:
            lot = _kept_water(held, last, water, residue, rinse.location, key, acting_user)
        written: TankRinse = TankRinse.objects.create(
            tank=tank,
            batch=last,
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
        told = f"{tank.name} rinsed with {house().weighed(water)} of water, {where}."
        write_entry(
            tank=tank,
            kind=TankEntry.Kind.RINSED,
            held=TankContents(state=TankState.EMPTY, basis=told),
            key=f"rinsed:{written.pk}",
            acting_user=acting_user,
            batch=last,
            rinse=written,
            note=rinse.note,
        )
        if last is not None:
            note(last, acting_user=acting_user, why=told)
    return written


def _rinsable(tank: Tank, batch: Batch | None) -> tuple[TankContents | None, Batch | None]:
    """What is in the tank (None: not known) and the batch it is of."""
    entry = newest_entry(tank)
    if batch is not None and batch.status in (Batch.Status.PLANNED, Batch.Status.CHARGING):
        raise IllegalMove(
            gettext("%(batch)s is not made yet; there is nothing to rinse out.")
            % {"batch": batch.number}
        )
    if entry is None:
        if batch is None:
            return None, None
        return mixed(batch, planned_portions(batch), under(batch), BY_PLAN), batch
    if batch is not None and entry.batch_id != batch.pk:
        raise IllegalMove(
            gettext(
                "%(batch)s is not what was last in %(tank)s: write the rinse down on"
                " the tank's own page."
            )
            % {"batch": batch.number, "tank": tank.name}
        )
    if isinstance(heel_after(tank, entry), UnknownTank):
        return None, entry.batch
    if entry.held.is_occupied and entry.batch is not None:
        raise IllegalMove(
            gettext(
                "%(tank)s holds %(batch)s (%(status)s): fill or drain it before the tank is rinsed."
            )
            % {
                "tank": tank.name,
                "batch": entry.batch.number,
                "status": entry.batch.get_status_display(),
            }
        )
    return entry.held, entry.batch


def _pounds(value: Decimal, name: str, too_little: str, *, least: Decimal = Decimal(0)) -> Decimal:
    try:
        mass = exact_pounds(value)
    except ValueError as error:
        raise BadInput(str(error), fields={name: str(error)}) from error
    if mass < least:
        raise BadInput(too_little, fields={name: too_little})
    return mass


def _kept_water(
    held: TankContents | None,
    batch: Batch | None,
    water: Decimal,
    residue: Decimal,
    location: str,
    key: str,
    acting_user: User,
) -> StockLot:
    if held is None or held.density_lb_per_gal is None:
        raise IllegalMove(
            gettext(
                "The ledger knows of nothing in the tank that this water could have"
                " taken up: it goes to approved disposal."
            )
        )
    mass = water + residue
    share = float(residue / mass)
    blended = 1 / (share / held.density_lb_per_gal + (1 - share) / WATER_LB_PER_GAL)
    return receive_lot(
        delivery=Delivery(
            stock=_rinse_stock(),
            mass_lb=mass,
            received_on=timezone.localdate(),
            supplier="our own tank rinse",
            supplier_lot="" if batch is None else batch.number,
            location=location,
        ),
        certificate=Certificate(
            source=f"estimate: {house().weighed(residue)} of {held.product} in the rinse water",
            figures={code: round(pct * share, 6) for code, pct in held.analysis.items() if pct > 0},
            density_lb_per_gal=round(blended, 4),
            density_temp_f=(
                REFERENCE_F if batch is None else batch.load_plan.density_window.temperature_f
            ),
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
