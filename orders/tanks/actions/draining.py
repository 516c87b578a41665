"""A tank is drained: its heel stays, measured or the usual one."""

from django.db import transaction
from django.utils.translation import gettext as _

from blendshop.accounts.models import User
from blendshop.errors import BadInput, IllegalMove
from blendshop.figures.readers import house
from blendshop.roles import require_role
from orders.frozen.tank_contents import TankContents, TankState
from orders.models import Batch, Tank, TankEntry
from orders.tanks.actions.ledger import WRITERS, already_written, locked, require_key, write_entry
from orders.tanks.heel import newest_entry, usual_heel

MEASURED = "measured"


def drain_tank(
    *, tank: Tank, heel_gal: float | None, note: str, key: str, acting_user: User
) -> TankEntry:
    """Write down that the tank was drained to ``heel_gal``; None takes the usual heel.

    IllegalMove when nothing is known to be in it or a batch is being charged. A batch that was
    not released needs a note of where it went.
    """
    require_role(acting_user, *WRITERS)
    require_key(key)
    with transaction.atomic():
        tank = locked(tank)
        if done := already_written(key):
            return done
        entry = newest_entry(tank)
        held = _drainable(tank, entry)
        batch = None if entry is None else entry.batch
        if held.is_occupied and batch is not None and _is_unreleased(batch) and not note.strip():
            message = _("%(batch)s is not released: say where it went.") % {"batch": batch.number}
            raise BadInput(message, fields={"note": message})
        left = usual_heel(held, tank) if heel_gal is None else _measured(held, heel_gal)
        return write_entry(
            tank=tank,
            kind=TankEntry.Kind.DRAINED,
            held=left,
            key=key,
            acting_user=acting_user,
            batch=batch,
            note=note,
        )


def leave_heel(
    *, batch: Batch, heel_lb: float, basis: str, key: str, acting_user: User
) -> TankEntry | None:
    """The batch's packages are filled and so much stays; None when it is not in its tank now."""
    tank = locked(batch.tank)
    entry = newest_entry(tank)
    if entry is None or entry.batch_id != batch.pk or entry.held.state is not TankState.BATCH:
        return None
    return write_entry(
        tank=tank,
        kind=TankEntry.Kind.DRAINED,
        held=entry.held.heel_of_lb(heel_lb, basis),
        key=key,
        acting_user=acting_user,
        batch=batch,
    )


def _drainable(tank: Tank, entry: TankEntry | None) -> TankContents:
    held = None if entry is None else entry.held
    if held is None or held.state is TankState.UNKNOWN:
        raise IllegalMove(
            _("What is in %(tank)s is not known: look into it and sign what is left.")
            % {"tank": tank.name}
        )
    if held.state is TankState.EMPTY:
        raise IllegalMove(_("%(tank)s is empty already.") % {"tank": tank.name})
    if held.state is TankState.CHARGING:
        number = "" if entry is None or entry.batch is None else entry.batch.number
        raise IllegalMove(
            _(
                "%(number)s was begun in %(tank)s and not finished: finish it, or"
                " cancel it, then look into the tank and sign what is left."
            )
            % {"number": number, "tank": tank.name}
        )
    return held


def _is_unreleased(batch: Batch) -> bool:
    return batch.status != Batch.Status.RELEASED


def _measured(held: TankContents, heel_gal: float) -> TankContents:
    if not 0 <= heel_gal <= held.volume_gal:
        message = _(
            "The tank held %(volume_gal)s of %(product)s; what is left lies"
            " between nothing and that."
        ) % {"volume_gal": house().volume(held.volume_gal, 0), "product": held.product}
        raise BadInput(message, fields={"heel_gal": message})
    share = heel_gal / held.volume_gal if held.volume_gal > 0 else 0.0
    return held.heel_of_lb(share * held.mass_lb, MEASURED)
