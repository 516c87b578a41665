"""Somebody answers for a load whose recipe no formulator has reviewed."""

from typing import Final

from django.db import transaction
from django.utils.translation import gettext as _

from blendshop.accounts.models import User
from blendshop.errors import BadInput, IllegalMove
from blendshop.roles import Role, require_role
from orders.models import Batch
from orders.planning.recipe_review import GO_AHEAD, why_not_begun
from orders.production.actions.charging import locked
from orders.production.notices import tell_go_ahead
from orders.records.moves import note

#: The plant floor asks; it does not answer for a recipe itself.
LETS_GO_AHEAD: Final = (Role.FORMULATOR, Role.OFFICE)


def let_go_ahead(*, batch: Batch, acting_user: User, why: str) -> None:
    """This one load is made without a review of its recipe; who and why stay with the batch.

    It reviews nothing: the next load of the recipe waits again. IllegalMove where nothing holds
    the load.
    """
    require_role(acting_user, *LETS_GO_AHEAD)
    if not why.strip():
        message = _("Say why this load is made without a review.")
        raise BadInput(message, fields={"why": message})
    with transaction.atomic():
        batch = locked(batch)
        if not why_not_begun(batch):
            raise IllegalMove(
                _("{batch} does not wait for a review any more.").format(batch=batch.number)
            )
        note(
            batch,
            acting_user=acting_user,
            why=f"Made without a review of its recipe: {why.strip()}",
            data={GO_AHEAD: True},
        )
        tell_go_ahead(batch, why.strip(), by=acting_user)
