"""Accept a correction: its additions become weighings behind the plan, which stays as it is."""

from django.db import transaction
from django.utils import timezone

from blendshop.accounts.models import User
from blendshop.errors import ChangedMeanwhile, IllegalMove
from blendshop.roles import require_role
from orders.actions.charging import CHARGERS, locked, require_key
from orders.actions.moves import move, note
from orders.charging_page.corrections import CORRECTABLE, Proposal, proposal
from orders.charging_page.steps import batch_steps
from orders.models import Batch, PlanAddition
from orders.models.pounds import written_pounds


def accept_correction(
    *, batch: Batch, seen: str, key: str, acting_user: User
) -> list[PlanAddition]:
    """Append the additions that were seen (``seen`` is their digest); the batch goes on charging.

    ChangedMeanwhile when the tank would be corrected differently by now.
    """
    require_role(acting_user, *CHARGERS)
    require_key(key)
    with transaction.atomic():
        batch = locked(batch)
        if done := list(batch.additions.filter(key__startswith=f"{key}:")):
            return done
        if batch.status not in CORRECTABLE:
            raise IllegalMove(
                f"{batch.number} is {batch.get_status_display()}; nothing to correct."
            )
        steps = batch_steps(batch)
        found = proposal(batch, steps, timezone.localdate())
        if found is None or not found.additions or found.digest != seen:
            raise ChangedMeanwhile("The tank has changed meanwhile; look at the correction again.")
        why = _why(found)
        if batch.status == Batch.Status.CHARGING:
            note(batch, acting_user=acting_user, why=why)
        else:
            move(batch, Batch.Status.CHARGING, acting_user=acting_user, why=why)
        return [
            PlanAddition.objects.create(
                batch=batch,
                position=position,
                stock=each.stock,
                weight_lb=each.mass_lb,
                step=each.figures,
                why=why,
                key=f"{key}:{position}",
                by=acting_user,
                who=str(acting_user),
            )
            for position, each in enumerate(found.additions, start=len(steps) + 1)
        ]


def _why(found: Proposal) -> str:
    added = ", ".join(
        f"{written_pounds(each.mass_lb)} lb {each.stock.name}" for each in found.additions
    )
    return f"Correction accepted: {added}; the batch becomes {found.mass_lb:,.0f} lb."[:400]
