"""A person signs that a tank was cleaned. What is in it stays the ledger's to say."""

from typing import Final

from django.db import transaction
from django.utils.translation import gettext as _

from blendshop.accounts.models import User
from blendshop.errors import ChangedMeanwhile, IllegalMove
from blendshop.roles import require_role
from blendshop.saving import save_valid
from formulas.engine_bridge import saved_rules
from orders.models import Tank, TankCleaning, TankEntry
from orders.planning.tank_sequence import tank_sequence
from orders.tanks.actions.ledger import WRITERS, locked, require_key
from orders.tanks.heel import NOT_KNOWN, newest_entry
from orders.tanks.page import says

SIGNERS: Final = WRITERS


def sign_cleaning(
    *,
    tank: Tank,
    how: str,
    seen_entry: int | None,
    key: str,
    acting_user: User,
    note: str = "",
) -> TankCleaning:
    """Write down how a tank was cleaned, after what, and what its sequence asked for.

    ``seen_entry`` is the tank's newest entry on the page that was signed; ChangedMeanwhile when
    something has happened to the tank since. IllegalMove while a batch is in it, but for its
    lines. The same key again gives the row that is there.
    """
    require_role(acting_user, *SIGNERS)
    require_key(key)
    with transaction.atomic():
        tank = locked(tank)
        done: TankCleaning | None = TankCleaning.objects.filter(key=key).first()
        if done is not None:
            return done
        entry = newest_entry(tank)
        if (entry.pk if entry else None) != seen_entry:
            raise ChangedMeanwhile(
                _("Something has happened to %(tank)s since: look at it, then sign.")
                % {"tank": tank.name}
            )
        if entry is not None and entry.held.is_occupied and how != TankCleaning.How.LINES:
            raise IllegalMove(
                _("%(tank)s holds %(batch)s: fill or drain it before the tank is cleaned.")
                % {"tank": tank.name, "batch": entry.batch or entry.held.product}
            )
        changes = tank_sequence(tank, saved_rules()).changes
        row = TankCleaning(
            tank=tank,
            how=how,
            after=after_words(entry)[:200],
            entry=entry,
            before=changes[0].batch if changes else None,
            asked=changes[0].words if changes else "",
            note=note.strip()[:400],
            key=key,
            by=acting_user,
            who=str(acting_user),
        )
        return save_valid(row, acting_user)


def after_words(entry: TankEntry | None) -> str:
    """What was in the tank, or was rinsed out of it last."""
    held = NOT_KNOWN if entry is None else entry.held
    if held.product:
        return held.product
    if entry is not None and entry.batch is not None:
        return f"{entry.batch.load_plan.product_name} ({entry.batch.number})"
    return says(entry, held)
