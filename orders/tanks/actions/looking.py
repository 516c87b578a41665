"""A person looks into a tank and signs what is in it."""

from collections.abc import Mapping
from dataclasses import dataclass, field, replace
from enum import StrEnum
from typing import Final, NoReturn

from django.db import transaction
from django.utils.translation import gettext as _

from blendshop.accounts.models import User
from blendshop.errors import BadInput, IllegalMove
from blendshop.figures.readers import house
from blendshop.roles import require_role
from formulas.engine.composition import ANALYSIS_KEYS
from orders.frozen.tank_contents import STATED_CODE, HeldStock, TankContents, TankState
from orders.models import Batch, BatchClosing, Tank, TankEntry
from orders.tanks.actions.ledger import WRITERS, already_written, locked, require_key, write_entry
from orders.tanks.heel import BY_PLAN, USUAL_HEEL, newest_entry, usual_heel_gal
from orders.tanks.mixing import mixed, planned_portions, under

SIGNED: Final = "as looked and signed"


class Found(StrEnum):
    """What a person found in the tank."""

    EMPTY = "empty"
    HEEL = "heel"
    BATCH = "batch"
    OTHER = "other"
    UNKNOWN = "unknown"


@dataclass(frozen=True, slots=True)
class Looked:
    """What was found. ``volume_gal`` None: the usual heel.

    A heel is of ``batch``, or of what the ledger says was in the tank. ``product``, density and
    ``analysis`` (percent by weight, keys as of a stock) only for something else.
    """

    found: Found
    volume_gal: float | None = None
    batch: Batch | None = None
    product: str = ""
    density_lb_per_gal: float | None = None
    analysis: Mapping[str, float] = field(default_factory=dict)
    note: str = ""


def look_and_sign(*, tank: Tank, looked: Looked, key: str, acting_user: User) -> TankEntry:
    """Write down what was found; it holds from now on, whatever the ledger said before.

    BadInput where what was found is not said completely, or cannot be in this tank.
    """
    require_role(acting_user, *WRITERS)
    require_key(key)
    with transaction.atomic():
        tank = locked(tank)
        if done := already_written(key):
            return done
        _require_settled(newest_entry(tank), looked)
        held, batch = _contents(tank, looked)
        return write_entry(
            tank=tank,
            kind=TankEntry.Kind.LOOKED,
            held=held,
            key=key,
            acting_user=acting_user,
            batch=batch,
            note=looked.note,
        )


def _require_settled(entry: TankEntry | None, looked: Looked) -> None:
    """A batch does not vanish from its tank by a signature."""
    if entry is None or entry.batch is None or not entry.held.is_occupied:
        return
    number, status = entry.batch.number, entry.batch.status
    if status == Batch.Status.CHARGING:
        raise IllegalMove(
            _("%(number)s is being charged in %(tank)s; finish or cancel it.")
            % {"number": number, "tank": entry.tank.name}
        )
    unreleased = status in (Batch.Status.MADE, Batch.Status.HELD)
    if unreleased and entry.batch != looked.batch and not looked.note.strip():
        _refuse(
            "note",
            _("%(number)s is in the tank and not released: say where it went.")
            % {"number": number},
        )


def _contents(tank: Tank, looked: Looked) -> tuple[TankContents, Batch | None]:
    if looked.found is Found.EMPTY:
        return TankContents(state=TankState.EMPTY, basis=SIGNED), None
    if looked.found is Found.UNKNOWN:
        if not looked.note.strip():
            _refuse("note", _("Say what you saw."))
        return TankContents(state=TankState.UNKNOWN, basis=SIGNED), None
    if looked.found is Found.OTHER:
        return _stated(tank, looked), None
    whole, batch = _of_batch(tank, looked)
    if looked.found is Found.BATCH and looked.volume_gal is None:
        _refuse("volume_gal", _("Say how many gallons are in the tank."))
    volume_gal = looked.volume_gal if looked.volume_gal is not None else usual_heel_gal(tank)
    _require_fits(tank, volume_gal)
    share = volume_gal / whole.volume_gal if whole.volume_gal > 0 else 0.0
    basis = USUAL_HEEL if looked.volume_gal is None else SIGNED
    held = whole.heel_of_lb(share * whole.mass_lb, basis)
    if looked.found is Found.BATCH and batch is not None and _is_to_be_filled(batch):
        held = replace(held, state=TankState.BATCH)
    return held, batch


def _of_batch(tank: Tank, looked: Looked) -> tuple[TankContents, Batch | None]:
    """The contents the found liquid is a part of, and the batch it is of."""
    batch = looked.batch
    if batch is None and looked.found is Found.HEEL:
        entry = newest_entry(tank)
        if entry is not None and entry.held.mass_lb > 0 and not _is_charging(entry):
            return entry.held, entry.batch
        _refuse("batch", _("The ledger does not know what was in it last: say of which batch."))
    if batch is None:
        _refuse("batch", _("Say of which batch."))
    if batch.status == Batch.Status.PLANNED:
        _refuse(
            "batch",
            _("%(batch)s is only planned; it has been in no tank.") % {"batch": batch.number},
        )
    if batch.status == Batch.Status.CHARGING:
        _refuse(
            "batch",
            _("%(batch)s is being charged; finish it or cancel it first.")
            % {"batch": batch.number},
        )
    made = batch.tank_entries.filter(kind=TankEntry.Kind.FINISHED).order_by("-pk").first()
    if made is not None:
        return made.held, batch
    return mixed(batch, planned_portions(batch), under(batch), BY_PLAN), batch


def _is_charging(entry: TankEntry) -> bool:
    return entry.held.state is TankState.CHARGING


def _is_to_be_filled(batch: Batch) -> bool:
    live = (Batch.Status.MADE, Batch.Status.HELD, Batch.Status.RELEASED)
    return batch.status in live and not BatchClosing.objects.filter(batch=batch).exists()


def _stated(tank: Tank, looked: Looked) -> TankContents:
    if not looked.product.strip():
        _refuse("product", _("Say what it is."))
    if looked.volume_gal is None or looked.volume_gal <= 0:
        _refuse("volume_gal", _("Say how many gallons are in the tank."))
    if looked.density_lb_per_gal is None or not 5 <= looked.density_lb_per_gal <= 20:
        _refuse("density_lb_per_gal", _("Give its density, from 5 to 20 lb/gal."))
    if wrong := [
        key
        for key, pct in looked.analysis.items()
        if key not in ANALYSIS_KEYS or not 0 <= pct <= 100
    ]:
        _refuse(
            "analysis",
            _("%(key)s must be a known content from 0 to 100 percent.") % {"key": wrong[0]},
        )
    _require_fits(tank, looked.volume_gal)
    density = looked.density_lb_per_gal
    analysis = dict(looked.analysis)
    stock = HeldStock(
        code=STATED_CODE,
        name=looked.product.strip(),
        derived_from="",
        other_origin="",
        metals={},
        scale_step_lb=1.0,
        density_lb_per_gal=density,
        analysis=analysis,
        traits=(),
        instruction="",
        pct=100.0,
    )
    return TankContents(
        state=TankState.HEEL,
        product=looked.product.strip(),
        mass_lb=looked.volume_gal * density,
        volume_gal=looked.volume_gal,
        density_lb_per_gal=density,
        analysis=analysis,
        stocks=(stock,),
        basis=SIGNED,
    )


def _require_fits(tank: Tank, volume_gal: float) -> None:
    if not 0 <= volume_gal <= tank.capacity_gal:
        _refuse(
            "volume_gal",
            _("%(tank)s takes at most %(capacity_gal)s.")
            % {"tank": tank.name, "capacity_gal": house().volume(tank.capacity_gal, 0)},
        )


def _refuse(name: str, message: str) -> NoReturn:
    raise BadInput(message, fields={name: message})
