"""What to do about a tank that is off: accept the correction, or a lower promise.

Additions become weighings behind the plan, which stays as it is.
"""

from collections.abc import Sequence
from typing import Final

from django.db import transaction
from django.utils import timezone

from blendshop.accounts.models import User
from blendshop.errors import BadInput, ChangedMeanwhile, IllegalMove, NotAllowed
from blendshop.figures.readers import house
from blendshop.roles import Role, has_role, require_role
from orders.models import Batch, LoweredPromise, PlanAddition
from orders.production.actions.charging import CHARGERS, already_written, locked, require_key
from orders.production.corrections import CORRECTABLE, Proposal, ProposedAddition, proposal
from orders.production.steps import Step, batch_steps
from orders.records.moves import move, note

#: Who may sell a tank as less than was promised.
LOWERERS: Final = (Role.FORMULATOR,)


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
        if found.new_stocks and not has_role(acting_user, Role.FORMULATOR):
            raise NotAllowed("This brings a new stock into the blend; a formulator decides.")
        why = _why(found)
        _charge_on(batch, why, acting_user)
        return _add(batch, steps, found.additions, why, key, acting_user)


def accept_lower_promise(
    *, batch: Batch, seen: str, agreed_with: str, why: str, key: str, acting_user: User
) -> LoweredPromise:
    """Sell the tank as the best it can honestly be, as it was shown (``seen`` is its digest).

    Only where no correction keeps what was promised. The customers were promised more, so
    somebody agreed for them. What the lower promise still needs is added behind the plan.
    ChangedMeanwhile when the tank could be sold as something else by now.
    """
    require_role(acting_user, *LOWERERS)
    require_key(key)
    faults = {
        name: message
        for name, text, message in (
            ("agreed_with", agreed_with, "Say who agreed for the customer."),
            ("why", why, "Give a reason."),
        )
        if not text.strip()
    }
    if faults:
        raise BadInput(" ".join(faults.values()), fields=faults)
    with transaction.atomic():
        batch = locked(batch)
        if done := already_written(LoweredPromise, key):
            return done
        if batch.status not in CORRECTABLE:
            raise IllegalMove(f"{batch.number} is {batch.get_status_display()}; its promise stays.")
        steps = batch_steps(batch)
        found = proposal(batch, steps, timezone.localdate())
        offer = None if found is None else found.offer
        if offer is None or offer.digest != seen:
            raise ChangedMeanwhile("The tank has changed meanwhile; look at the offer again.")
        told = (
            f"Promise lowered from {batch.grade} to {offer.grade},"
            f" agreed with {agreed_with.strip()}: {why.strip()}"
        )[:400]
        if offer.additions:
            _charge_on(batch, told, acting_user)
            _add(batch, steps, offer.additions, told, key, acting_user)
        else:
            note(batch, acting_user=acting_user, why=told)
        lowered: LoweredPromise = LoweredPromise.objects.create(
            batch=batch,
            grade=offer.grade,
            minima_pct=offer.minima_pct,
            slow_release_min_pct=offer.slow_release_min_pct,
            agreed_with=agreed_with.strip()[:200],
            why=why.strip()[:400],
            key=key,
            by=acting_user,
            who=str(acting_user),
        )
        return lowered


def _charge_on(batch: Batch, why: str, acting_user: User) -> None:
    if batch.status == Batch.Status.CHARGING:
        note(batch, acting_user=acting_user, why=why)
    else:
        move(batch, Batch.Status.CHARGING, acting_user=acting_user, why=why)


def _add(
    batch: Batch,
    steps: Sequence[Step],
    additions: Sequence[ProposedAddition],
    why: str,
    key: str,
    acting_user: User,
) -> list[PlanAddition]:
    return [
        PlanAddition.objects.create(
            batch=batch,
            position=position,
            stock=each.stock,
            weight_lb=each.mass_lb,
            step=each.figures.to_json(),
            why=why,
            key=f"{key}:{position}",
            by=acting_user,
            who=str(acting_user),
        )
        for position, each in enumerate(additions, start=len(steps) + 1)
    ]


def _why(found: Proposal) -> str:
    added = ", ".join(
        f"{house().weighed(each.mass_lb)} {each.stock.name}" for each in found.additions
    )
    return f"Correction accepted: {added}; the batch becomes {house().mass(found.mass_lb, 0)}."[
        :400
    ]
