"""One entry of a tank's ledger, written in the caller's transaction."""

import re
from typing import Final

from django.utils.translation import gettext as _

from blendshop.accounts.models import User
from blendshop.errors import BadInput
from blendshop.roles import Role
from orders.frozen.tank_contents import TankContents
from orders.models import Batch, Tank, TankEntry, TankRinse

WRITERS: Final = (Role.PLANT, Role.FORMULATOR)
_KEY: Final = re.compile(r"[A-Za-z0-9:-]{8,64}")


def locked(tank: Tank) -> Tank:
    """The tank, held until commit: what is in it is read and written by one person at a time."""
    return Tank.objects.select_for_update().get(pk=tank.pk)


def require_key(key: str) -> None:
    """BadInput without the idempotency key that the form was given."""
    if not _KEY.fullmatch(key):
        raise BadInput(
            _("The form is incomplete; open the page again."), fields={"key": _("No key.")}
        )


def already_written(key: str) -> TankEntry | None:
    """The entry this key has written before."""
    return TankEntry.objects.filter(key=key).first()


def write_entry(
    *,
    tank: Tank,
    kind: TankEntry.Kind,
    held: TankContents,
    key: str,
    acting_user: User,
    batch: Batch | None = None,
    rinse: TankRinse | None = None,
    note: str = "",
) -> TankEntry:
    """What is in the tank from now on, signed by ``acting_user``."""
    entry: TankEntry = TankEntry.objects.create(
        tank=tank,
        kind=kind,
        batch=batch,
        rinse=rinse,
        contents=held.to_json(),
        note=note.strip()[:400],
        key=key,
        by=acting_user,
        who=str(acting_user),
    )
    return entry
