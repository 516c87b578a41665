"""Charging a batch: each weight saved at once, once, however often it is sent."""

import re
from collections.abc import Collection, Sequence
from datetime import datetime
from decimal import Decimal
from typing import Final, TypeVar

from django.db import IntegrityError, transaction
from django.utils import timezone
from django.utils.translation import gettext as _

from blendshop.accounts.models import User
from blendshop.errors import BadInput, ChangedMeanwhile, IllegalMove, NotAllowed
from blendshop.figures.readers import house
from blendshop.roles import Role, has_role, require_role
from formulas.models import BaseStock
from orders.inventory.actions.lots import adjust_lot, use_lot
from orders.models import Batch, Charge, ReversedCharge, StockLot
from orders.models.idempotent_record import IdempotentRecord
from orders.models.pounds import exact_pounds
from orders.planning.recipe_review import require_reviewed
from orders.production.confirmations import require_confirmed
from orders.production.steps import Step, batch_steps
from orders.records.moves import move, note
from orders.scales.standing import require_usable
from orders.tanks.actions.occupying import begin_batch, require_not_taken

CHARGERS: Final = (Role.PLANT, Role.FORMULATOR)
_KEY: Final = re.compile(r"[A-Za-z0-9-]{8,64}")
TAKES_CHARGES: Final = (Batch.Status.PLANNED, Batch.Status.CHARGING)

D = TypeVar("D", bound=IdempotentRecord)


def charge_lot(
    *,
    batch: Batch,
    step: int,
    lot: StockLot | None,
    mass_lb: Decimal | float,
    key: str,
    acting_user: User,
    weighed_at: datetime | None = None,
    typed_by: int | None = None,
    seen_lb: Decimal | None = None,
    confirmed: Collection[str] = (),
) -> Charge:
    """Write down that ``mass_lb`` of ``lot`` went into the tank for ``step`` of the batch.

    The same key again gives the charge that is there and moves nothing. ``lot`` is None only
    for water that comes from the main. ``typed_by`` is the id of the person a screen kept the
    weight for, ``seen_lb`` what that screen showed as charged for the step. Raises IllegalMove
    when the batch takes no charges, may not be begun yet or an earlier stock is not in, BadInput
    for a wrong lot, weight or key, NotAllowed for another person's weight, Unconfirmed where a
    person has to say that the weight is meant and ``confirmed`` does not name the question.
    """
    require_role(acting_user, *CHARGERS)
    require_key(key)
    _require_own(typed_by, acting_user)
    mass = positive_pounds(mass_lb)
    try:
        with transaction.atomic():
            batch = locked(batch)
            if done := already_written(Charge, key):
                return same_charge(done, batch, step, lot, mass)
            return write_charge(
                batch,
                step,
                lot,
                mass,
                key,
                acting_user,
                weighed_at=weighed_at,
                seen_lb=seen_lb,
                confirmed=confirmed,
            )
    except IntegrityError:
        # Two of the same at one moment, on an engine without row locks: the other one has it.
        if done := already_written(Charge, key):
            return same_charge(done, batch, step, lot, mass)
        raise


def write_charge(
    batch: Batch,
    number: int,
    lot: StockLot | None,
    mass: Decimal,
    key: str,
    acting_user: User,
    *,
    weighed_at: datetime | None = None,
    seen_lb: Decimal | None = None,
    confirmed: Collection[str] = (),
    in_order: bool = True,
) -> Charge:
    """The row and everything that goes with it, in the caller's transaction on a locked batch.

    Without ``in_order`` the caller sees to it that no stock is left out.
    """
    if batch.status not in TAKES_CHARGES:
        raise IllegalMove(
            _("%(batch)s is %(status)s; nothing more is charged into it.")
            % {"batch": batch.number, "status": batch.get_status_display()}
        )
    require_reviewed(batch)
    steps = batch_steps(batch)
    step = next((each for each in steps if each.number == number), None)
    if step is None:
        raise BadInput(
            _("%(batch)s has no step %(number)s.") % {"batch": batch.number, "number": number},
            fields={"step": _("Unknown step.")},
        )
    if in_order:
        _require_order(steps, step, acting_user)
    stock = _stock_of(step, lot)
    require_usable(batch.tank, step.figures.scale, weighed_at)
    require_confirmed(batch, steps, step, lot, mass, seen_lb=seen_lb, confirmed=confirmed)
    if batch.status == Batch.Status.PLANNED:
        why = f"First charge: {step.name}."
        move(batch, Batch.Status.CHARGING, acting_user=acting_user, why=why)
        begin_batch(batch=batch, acting_user=acting_user)
    else:
        require_not_taken(batch)
    if lot is not None:
        use_lot(
            lot=lot,
            mass_lb=mass,
            batch=batch,
            acting_user=acting_user,
            key=f"charge:{key}",
            # A weight that waited for the network counts for the day it was taken.
            on=timezone.localdate(weighed_at) if weighed_at else None,
        )
    written: Charge = Charge.objects.create(
        batch=batch,
        step=number,
        stock_id=stock,
        lot=lot,
        mass_lb=mass,
        key=key,
        by=acting_user,
        who=str(acting_user),
        weighed_at=weighed_at,
    )
    return written


def reverse_charge(*, charge: Charge, why: str, key: str, acting_user: User) -> ReversedCharge:
    """A charge written down wrongly counts no more, and its lot gets the mass back.

    Only for what never went into the tank as written; what is in the tank is corrected, not
    reversed.
    """
    require_role(acting_user, *CHARGERS)
    require_key(key)
    if not why.strip():
        raise BadInput(_("Say what was wrong with the entry."), fields={"why": _("Give a reason.")})
    with transaction.atomic():
        batch = locked(charge.batch)
        if done := already_written(ReversedCharge, key):
            return done
        if ReversedCharge.objects.filter(charge=charge).exists():
            raise IllegalMove(_("This entry is already reversed."))
        if batch.status not in (Batch.Status.CHARGING, Batch.Status.MADE, Batch.Status.HELD):
            raise IllegalMove(
                _("%(batch)s is %(status)s; its charges are final.")
                % {"batch": batch.number, "status": batch.get_status_display()}
            )
        if charge.lot is not None:
            adjust_lot(
                lot=charge.lot,
                mass_lb=charge.mass_lb,
                why=f"Charge into {batch.number} reversed: {why.strip()}",
                acting_user=acting_user,
                key=f"back:{key}",
                batch=batch,
            )
        told = f"Charge of {house().weighed(charge.mass_lb)} reversed: {why.strip()}"
        if batch.status == Batch.Status.CHARGING:
            note(batch, acting_user=acting_user, why=told)
        else:
            move(batch, Batch.Status.CHARGING, acting_user=acting_user, why=told)
        reversal: ReversedCharge = ReversedCharge.objects.create(
            charge=charge, why=why.strip(), key=key, by=acting_user, who=str(acting_user)
        )
        return reversal


def require_key(key: str) -> None:
    """An entry is sent with an idempotency key its form or browser made."""
    if not _KEY.fullmatch(key):
        raise BadInput(
            _("The form is incomplete; open the page again."), fields={"key": _("No key.")}
        )


def positive_pounds(value: Decimal | float) -> Decimal:
    """A mass above zero, exact; BadInput otherwise."""
    try:
        mass = exact_pounds(value)
    except ValueError as error:
        raise BadInput(str(error), fields={"mass_lb": str(error)}) from error
    if mass <= 0:
        message = _("The weight must be above zero.")
        raise BadInput(message, fields={"mass_lb": message})
    return mass


def locked(batch: Batch) -> Batch:
    """The batch as it is now, held until commit: its entries come one after the other.

    Rows that only point at it may be written meanwhile, as its tank's ledger does.
    """
    return Batch.objects.select_for_update(of=("self",), no_key=True).get(pk=batch.pk)


def already_written(model: type[D], key: str) -> D | None:
    """What this key has already written."""
    done: D | None = model.objects.filter(key=key).first()
    return done


def _require_own(typed_by: int | None, acting_user: User) -> None:
    """A weight is signed by whoever read the scale, never by who is signed in when it is sent."""
    if typed_by is not None and typed_by != acting_user.pk:
        author = User.objects.filter(pk=typed_by).first()
        raise NotAllowed(
            _(
                "This weight was typed by %(author)s and waits until that person signs"
                " in on this tablet; you are signed in as %(acting_user)s."
            )
            % {"author": author or _("somebody else"), "acting_user": acting_user}
        )


def same_charge(
    done: Charge, batch: Batch, step: int, lot: StockLot | None, mass: Decimal
) -> Charge:
    """What the key has written; ChangedMeanwhile when that is another weight."""
    wanted = (batch.pk, step, lot.pk if lot else None, mass)
    if (done.batch_id, done.step, done.lot_id, done.mass_lb) != wanted:
        raise ChangedMeanwhile(
            _(
                "This charge is already saved as %(mass_lb)s of %(lot)s. Look at the"
                " batch, then weigh on."
            )
            % {"mass_lb": house().weighed(done.mass_lb), "lot": done.lot or done.stock.code}
        )
    return done


def _require_order(steps: Sequence[Step], step: Step, acting_user: User) -> None:
    """Earlier stocks first: the order keeps acid out of little water and salts in solution."""
    empty = [each for each in steps if each.number < step.number and not each.charges]
    if empty and not has_role(acting_user, Role.FORMULATOR):
        raise IllegalMove(
            _("%(first)s comes before %(step)s. Only a formulator may change the order.")
            % {"first": empty[0].name, "step": step.name}
        )


def _stock_of(step: Step, lot: StockLot | None) -> int:
    """The id of the step's stock, which the lot must be of."""
    stock = BaseStock.objects.get(code=step.code)
    if lot is None:
        if not step.is_water or stock.lots.exists():
            message = _("Scan or choose the lot of %(step)s.") % {"step": step.name}
            raise BadInput(message, fields={"lot": message})
    elif lot.stock_id != stock.pk:
        message = _("%(lot)s is %(stock)s, not %(step)s.") % {
            "lot": lot.code,
            "stock": lot.stock.name,
            "step": step.name,
        }
        raise BadInput(message, fields={"lot": message})
    return stock.pk
