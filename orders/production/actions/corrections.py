"""What to do about a tank that is off: accept the correction, other targets, a lower promise.

The plan stays as it is: new targets and weighings behind it are rows of their own.
"""

from collections.abc import Sequence
from typing import Final

from django.db import transaction
from django.utils import timezone
from django.utils.translation import gettext as _

from blendshop.accounts.models import User
from blendshop.errors import BadInput, ChangedMeanwhile, IllegalMove, NotAllowed
from blendshop.figures.readers import house
from blendshop.roles import Role, has_role, require_role
from orders.models import Batch, LoweredPromise, PlanAddition, StockLot, TargetChange
from orders.production.actions.charging import (
    CHARGERS,
    TAKES_CHARGES,
    already_written,
    locked,
    require_key,
)
from orders.production.corrections import CORRECTABLE, Proposal, ProposedAddition, proposal
from orders.production.new_targets import NewTarget, lot_answer
from orders.production.sold_as_it_stands import as_it_stands
from orders.production.steps import Step, batch_steps
from orders.records.moves import move, note

#: Who may sell a tank as less than was promised.
LOWERERS: Final = (Role.FORMULATOR,)


#: States in which a tank may be sold as less: once it is released as it stands.
LOWERABLE: Final = (*CORRECTABLE, Batch.Status.RELEASED)
#: What an accepted correction has written.
Accepted = list[PlanAddition | TargetChange]


def accept_correction(*, batch: Batch, seen: str, key: str, acting_user: User) -> Accepted:
    """Write the new targets and additions that were seen (``seen`` is their digest).

    ChangedMeanwhile when the tank would be corrected differently by now.
    """
    require_role(acting_user, *CHARGERS)
    require_key(key)
    with transaction.atomic():
        batch = locked(batch)
        if done := _accepted(batch, key):
            return done
        if batch.status not in CORRECTABLE:
            raise IllegalMove(
                _("%(batch)s is %(status)s; nothing to correct.")
                % {"batch": batch.number, "status": batch.get_status_display()}
            )
        steps = batch_steps(batch)
        found = proposal(batch, steps, timezone.localdate())
        if found is None or not found.helps or found.digest != seen:
            raise ChangedMeanwhile(
                _("The tank has changed meanwhile; look at the correction again.")
            )
        if found.new_stocks and not has_role(acting_user, Role.FORMULATOR):
            raise NotAllowed(_("This brings a new stock into the blend; a formulator decides."))
        why = _why(found)
        _charge_on(batch, why, acting_user)
        changed = _change_targets(batch, found.targets, why, key, acting_user)
        added = _add(batch, steps, found.additions, why, key, acting_user)
        return [*changed, *added]


def accept_lot(
    *, batch: Batch, step: int, lot: StockLot, seen: str, key: str, acting_user: User
) -> Accepted:
    """Take ``lot`` for a weighing and, with it, the targets that were seen (``seen``: digest).

    ChangedMeanwhile when other targets, or none, would follow from it by now.
    """
    require_role(acting_user, *CHARGERS)
    require_key(key)
    with transaction.atomic():
        batch = locked(batch)
        if done := _accepted(batch, key):
            return done
        if batch.status not in TAKES_CHARGES:
            raise IllegalMove(
                _("%(batch)s is %(status)s; its targets stay.")
                % {"batch": batch.number, "status": batch.get_status_display()}
            )
        steps = batch_steps(batch)
        wanted = next((each for each in steps if each.number == step), None)
        if wanted is None or lot.stock.code != wanted.code:
            raise BadInput(
                _("%(lot)s is no lot for step %(step)s.") % {"lot": lot.code, "step": step},
                fields={"lot": _("Wrong lot.")},
            )
        found = lot_answer(batch, steps, wanted, lot, timezone.localdate())
        if found is None or found.new is None or found.new.digest != seen:
            raise ChangedMeanwhile(_("The tank has changed meanwhile; scan the lot again."))
        why = f"{lot.code} for {wanted.name}: {_targets_words(found.new.targets)}."[:400]
        note(batch, acting_user=acting_user, why=why)
        return list(_change_targets(batch, found.new.targets, why, key, acting_user))


def accept_lower_promise(
    *, batch: Batch, seen: str, agreed_with: str, why: str, key: str, acting_user: User
) -> LoweredPromise:
    """Sell the tank as the best it can honestly be, as it was shown (``seen`` is its digest).

    Only where no correction keeps what was promised, or once it is released. The customers were
    promised more, so somebody agreed for them. What the lower promise still needs is added behind
    the plan.
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
        if batch.status not in LOWERABLE:
            raise IllegalMove(
                _("%(batch)s is %(status)s; its promise stays.")
                % {"batch": batch.number, "status": batch.get_status_display()}
            )
        steps = batch_steps(batch)
        found = (
            as_it_stands(batch)
            if batch.status == Batch.Status.RELEASED
            else proposal(batch, steps, timezone.localdate())
        )
        offer = None if found is None else found.offer
        if offer is None or offer.digest != seen:
            raise ChangedMeanwhile(_("The tank has changed meanwhile; look at the offer again."))
        told = (
            f"Promise lowered from {batch.grade} to {offer.grade},"
            f" agreed with {agreed_with.strip()}: {why.strip()}"
        )[:400]
        if offer.targets or offer.additions:
            _charge_on(batch, told, acting_user)
            _change_targets(batch, offer.targets, told, key, acting_user)
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


def _accepted(batch: Batch, key: str) -> Accepted:
    """What this key has already written."""
    changed = batch.target_changes.filter(key__startswith=f"{key}:").order_by("pk")
    added = batch.additions.filter(key__startswith=f"{key}:").order_by("pk")
    return [*changed, *added]


def _change_targets(
    batch: Batch, targets: Sequence[NewTarget], why: str, key: str, acting_user: User
) -> list[TargetChange]:
    return [
        TargetChange.objects.create(
            batch=batch,
            step=each.step.number,
            lot=each.lot,
            was_lb=each.step.target_lb,
            weight_lb=each.weight_lb,
            figures=each.figures.to_json(),
            why=why,
            key=f"{key}:{each.step.number}",
            by=acting_user,
            who=str(acting_user),
        )
        for each in targets
    ]


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
        f"{house().weighed(each.mass_lb)} {each.stock.name} more" for each in found.additions
    )
    told = ", ".join(filter(None, [_targets_words(found.targets), added]))
    return f"Correction accepted: {told}; the batch becomes {house().mass(found.mass_lb, 0)}."[:400]


def _targets_words(targets: Sequence[NewTarget]) -> str:
    return ", ".join(
        f"{each.step.name} {house().weighed(each.weight_lb)} instead of"
        f" {house().weighed(each.step.target_lb)}"
        for each in targets
    )
