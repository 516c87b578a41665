"""Notes from one shift to the next, and who has read them."""

from typing import Final

from django.db import IntegrityError, transaction
from django.utils.translation import gettext as _

from blendshop.accounts.models import User
from blendshop.errors import BadInput
from blendshop.roles import Role, require_role
from blendshop.saving import save_valid
from orders.models import HandoverNote, HandoverRead
from orders.tanks.actions.ledger import require_key

#: Who sees the day, writes notes and reads them.
DAY_ROLES: Final = (Role.PLANT, Role.FORMULATOR, Role.OFFICE)


def write_note(*, shift: str, text: str, key: str, acting_user: User) -> HandoverNote:
    """Add a note; none is ever edited. The same key again gives the note that is there."""
    require_role(acting_user, *DAY_ROLES)
    require_key(key)
    if not text.strip():
        message = _("Write what the next shift has to know.")
        raise BadInput(message, fields={"text": message})
    try:
        with transaction.atomic():
            return _written(key) or save_valid(
                HandoverNote(
                    shift=shift, text=text.strip(), key=key, by=acting_user, who=str(acting_user)
                ),
                acting_user,
            )
    except IntegrityError:
        # Pressed twice at one moment: the other one has it.
        if done := _written(key):
            return done
        raise


def _written(key: str) -> HandoverNote | None:
    done: HandoverNote | None = HandoverNote.objects.filter(key=key).first()
    return done


def mark_read(*, note: HandoverNote, acting_user: User) -> None:
    """Write down, once a person, that the note was read."""
    require_role(acting_user, *DAY_ROLES)
    with transaction.atomic():
        HandoverRead.objects.get_or_create(
            note=note, by=acting_user, defaults={"who": str(acting_user)}
        )
