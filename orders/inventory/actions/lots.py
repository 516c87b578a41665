"""The stock ledger's entries: lots received, used, adjusted and moved.

Each carries an idempotency ``key``. The same key again changes nothing, so a form
sent twice or a charge repeated after a lost connection is safe.
"""

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import date
from decimal import Decimal
from typing import Final

from django.db import IntegrityError, transaction
from django.db.models import F, Value
from django.utils import timezone
from django.utils.translation import gettext as _

from blendshop.accounts.models import User
from blendshop.errors import BadInput, ChangedMeanwhile, IllegalMove
from blendshop.figures.readers import house
from blendshop.roles import Role, require_role
from blendshop.saving import save_valid
from formulas.models import BaseStock
from orders.inventory.actions.lot_quality import (
    Certificate,
    figures_of,
    note_lot,
    refuse,
    settle_state,
    write_certificate,
)
from orders.inventory.notices import tell_lots_held, tell_out_of_line
from orders.inventory.plausibility import confirmed_words, doubts, require_confirmed
from orders.models import Batch, LotFigure, LotMetal, PoundsField, StockLot, StockMovement
from orders.models.pounds import exact_pounds
from orders.records.numbering import next_number

LOT_PREFIX: Final = "L"
RECEIVERS: Final = (Role.PLANT, Role.FORMULATOR, Role.OFFICE)
USERS: Final = (Role.PLANT, Role.FORMULATOR)
ADJUSTERS: Final = (Role.PLANT, Role.FORMULATOR, Role.OFFICE)
MOVERS: Final = (Role.PLANT, Role.FORMULATOR)

Kind = StockMovement.Kind
State = StockLot.State


@dataclass(frozen=True, slots=True)
class Delivery:
    """What came in."""

    stock: BaseStock
    mass_lb: Decimal
    received_on: date
    supplier: str = ""
    supplier_lot: str = ""
    expires_on: date | None = None
    location: str = ""


def receive_lot(
    *,
    delivery: Delivery,
    acting_user: User,
    key: str,
    certificate: Certificate | None = None,
    held_reason: str = "",
    again: Mapping[str, Decimal | float] | None = None,
) -> StockLot:
    """Take a delivery in as a new lot; held at once when ``held_reason`` is given.

    ``again`` repeats the figures that ``plausibility`` doubts, by its names; BadInput names those
    still missing. What was confirmed stands in the lot's history.
    """
    require_role(acting_user, *RECEIVERS)
    mass = _mass(delivery.mass_lb, field_name="mass_lb")
    if done := _done(key):
        return done.lot
    if delivery.received_on > timezone.localdate():
        refuse("received_on", _("A delivery cannot have come in the future."))
    if delivery.expires_on and delivery.expires_on < delivery.received_on:
        refuse("expires_on", _("The last day of use lies before the delivery."))
    doubted = doubts(delivery.stock, mass_lb=mass, **figures_of(certificate))
    confirmed = require_confirmed(doubted, again or {})
    try:
        with transaction.atomic():
            lot = save_valid(
                StockLot(
                    code=next_number(LOT_PREFIX),
                    stock=delivery.stock,
                    supplier=delivery.supplier,
                    supplier_lot=delivery.supplier_lot,
                    received_lb=mass,
                    received_on=delivery.received_on,
                    expires_on=delivery.expires_on,
                    location=delivery.location,
                    state=State.HELD if held_reason else State.OK,
                    held_reason=held_reason,
                ),
                acting_user,
            )
            if certificate is not None:
                write_certificate(lot, certificate, acting_user)
            why = " ".join(filter(None, [delivery.supplier, delivery.supplier_lot]))
            _write_movement(lot, Kind.RECEIVED, mass, acting_user, key, why=why)
            if held_reason:
                note_lot(lot, acting_user, "", State.HELD, held_reason)
                tell_lots_held([lot], held_reason, by=acting_user)
            if doubted:
                told = confirmed_words(doubted)
                note_lot(lot, acting_user, lot.state, lot.state, told, confirmed=confirmed)
                tell_out_of_line(lot, doubted, by=acting_user)
    except IntegrityError:
        # The same form, twice at the same moment: the other one has it.
        if done := _done(key):
            return done.lot
        raise
    return lot


def use_lot(
    *,
    lot: StockLot,
    mass_lb: Decimal | float,
    batch: Batch,
    acting_user: User,
    key: str,
    on: date | None = None,
) -> StockMovement:
    """Charge ``mass_lb`` (above zero) of a lot into a batch, ``on`` a day, today if not given.

    IllegalMove when the lot is held or expired or the batch is cancelled, BadInput when the lot
    holds less.
    """
    require_role(acting_user, *USERS)
    mass = _mass(mass_lb, field_name="mass_lb")
    if batch.status == Batch.Status.CANCELLED:
        raise IllegalMove(
            _("%(batch)s is cancelled; nothing goes into it.") % {"batch": batch.number}
        )
    if lot.expires_on is not None and lot.expires_on < (on or timezone.localdate()):
        raise IllegalMove(
            _(
                "%(lot)s expired on %(expires_on)s. Take another lot, or have a"
                " formulator give it a later day after a test."
            )
            % {"lot": lot.code, "expires_on": house().date(lot.expires_on)}
        )
    return _move_mass(lot, Kind.USED, -mass, acting_user, key, batch=batch, refuse_held=True)


def adjust_lot(
    *,
    lot: StockLot,
    mass_lb: Decimal | float,
    why: str,
    acting_user: User,
    key: str,
    batch: Batch | None = None,
) -> StockMovement:
    """Correct a lot by ``mass_lb`` (+ or -) with a reason.

    ``batch`` is given when a charge was written down wrongly, so that the trace stays right.
    """
    require_role(acting_user, *ADJUSTERS)
    if not why.strip():
        refuse("why", _("Say why the lot is adjusted."))
    mass = _mass(mass_lb, field_name="mass_lb", signed=True)
    return _move_mass(lot, Kind.ADJUSTED, mass, acting_user, key, why=why.strip(), batch=batch)


def count_lot(
    *,
    lot: StockLot,
    found_lb: Decimal,
    seen_lb: Decimal,
    why: str,
    acting_user: User,
    key: str,
) -> StockMovement | None:
    """Adjust a lot to what was found in its tank; None when the books were right.

    ``seen_lb`` is the balance the person saw: ChangedMeanwhile when it has moved since, because
    the difference would then be charged twice.
    """
    require_role(acting_user, *ADJUSTERS)
    found = _mass(found_lb, field_name="found_lb", signed=True)
    if found < 0:
        refuse("found_lb", _("A tank does not hold less than nothing."))
    with transaction.atomic():
        if done := _done(key):
            return done
        balance = StockLot.objects.select_for_update().get(pk=lot.pk).on_hand_lb
        if balance != seen_lb:
            raise ChangedMeanwhile(
                _("%(lot)s holds %(balance)s by now; count again.")
                % {"lot": lot.code, "balance": house().weighed(balance)}
            )
        if found == balance:
            return None
        return adjust_lot(
            lot=lot, mass_lb=found - balance, why=why, acting_user=acting_user, key=key
        )


def transfer_lot(
    *, lot: StockLot, mass_lb: Decimal | float, location: str, acting_user: User, key: str
) -> StockLot:
    """Move a part (or all) of a lot to another place, as a lot of its own.

    The new lot keeps supplier, dates, certificate and state: it is the same liquid, and the
    trace follows it. Two lots are never poured into one: nobody could say what is in it.
    """
    require_role(acting_user, *MOVERS)
    mass = _mass(mass_lb, field_name="mass_lb")
    place = location.strip()
    if not place:
        refuse("location", _("Say where it goes."))
    if done := _done(f"{key}:in"):
        return done.lot
    try:
        with transaction.atomic():
            lot = StockLot.objects.select_for_update().get(pk=lot.pk)
            part = _split(lot, mass, place, acting_user)
            _write_movement(
                lot, Kind.TRANSFERRED_OUT, -mass, acting_user, f"{key}:out",
                why=f"To {part.code}, {place}.",
            )  # fmt: skip
            _write_movement(
                part, Kind.TRANSFERRED_IN, mass, acting_user, f"{key}:in",
                why=f"From {lot.code}{f', {lot.location}' if lot.location else ''}.",
            )  # fmt: skip
    except IntegrityError as error:
        if done := _done(f"{key}:in"):
            return done.lot
        raise _too_little(lot, mass) from error
    return part


def _move_mass(
    lot: StockLot,
    kind: Kind,
    mass: Decimal,
    acting_user: User,
    key: str,
    *,
    why: str = "",
    batch: Batch | None = None,
    refuse_held: bool = False,
) -> StockMovement:
    """Write one movement, or find it written; BadInput when the lot holds too little."""
    if done := _done(key):
        return _same_deed(done, lot, mass, batch)
    try:
        with transaction.atomic():
            return _write_movement(
                lot, kind, mass, acting_user, key, why=why, batch=batch, refuse_held=refuse_held
            )
    except IntegrityError as error:
        if done := _done(key):
            return _same_deed(done, lot, mass, batch)
        raise _too_little(lot, -mass) from error


def _write_movement(
    lot: StockLot,
    kind: Kind,
    mass: Decimal,
    acting_user: User,
    key: str,
    *,
    why: str = "",
    batch: Batch | None = None,
    refuse_held: bool = False,
) -> StockMovement:
    """The row and the balance, in the caller's transaction. The check refuses a balance below 0.

    IntegrityError when the balance would be negative or the key is taken.
    """
    movement: StockMovement = StockMovement.objects.create(
        lot=lot,
        kind=kind,
        mass_lb=mass,
        batch=batch,
        key=key,
        by=acting_user,
        who=str(acting_user),
        why=why[:400],
    )
    row = StockLot.objects.filter(pk=lot.pk)
    if refuse_held:
        row = row.exclude(state=State.HELD)
    # F(): the database counts on what it holds now, not on what this process has read.
    change = Value(mass, output_field=PoundsField())
    if row.update(on_hand_lb=F("on_hand_lb") + change) != 1:
        lot.refresh_from_db()
        raise IllegalMove(
            _("%(lot)s is held: %(held_reason)s")
            % {"lot": lot.code, "held_reason": lot.held_reason}
        )
    settle_state(lot, acting_user)
    return movement


def _split(lot: StockLot, mass: Decimal, place: str, acting_user: User) -> StockLot:
    """A new, still empty lot with everything the old one is known by."""
    part = StockLot(
        code=next_number(LOT_PREFIX),
        split_from=lot,
        received_lb=mass,
        location=place,
        **{
            name: getattr(lot, name)
            for name in (
                "stock", "supplier", "supplier_lot", "received_on", "expires_on",
                "density_lb_per_gal", "density_temp_f", "density_source",
                "certificate", "held_reason",
            )
        },
        state=lot.state if lot.state == State.HELD else State.OK,
    )  # fmt: skip
    save_valid(part, acting_user)
    LotFigure.objects.bulk_create(
        LotFigure(lot=part, key=row.key, pct=row.pct, source=row.source)
        for row in lot.figures.all()
    )
    LotMetal.objects.bulk_create(
        LotMetal(lot=part, metal=row.metal, ppm=row.ppm, source=row.source)
        for row in lot.metals.all()
    )
    return part


def _done(key: str) -> StockMovement | None:
    """The movement this key has already written. BadInput without a key."""
    if not key.strip():
        raise BadInput(_("The form is incomplete; open the page again."))
    return StockMovement.objects.select_related("lot").filter(key=key).first()


def _same_deed(
    done: StockMovement, lot: StockLot, mass: Decimal, batch: Batch | None
) -> StockMovement:
    if (done.lot_id, done.mass_lb, done.batch_id) != (lot.pk, mass, batch.pk if batch else None):
        raise ChangedMeanwhile(
            _(
                "This was already written down as %(mass_lb)s of %(lot)s. Look at the"
                " lot, then start again."
            )
            % {"mass_lb": house().weighed(abs(done.mass_lb)), "lot": done.lot.code}
        )
    return done


def _mass(value: Decimal | float, *, field_name: str, signed: bool = False) -> Decimal:
    try:
        mass = exact_pounds(value)
    except ValueError as error:
        refuse(field_name, str(error), error)
    if not signed and mass <= 0:
        refuse(field_name, _("The mass must be above zero."))
    if signed and mass == 0 and field_name == "mass_lb":
        refuse(field_name, _("An adjustment by nothing changes nothing."))
    return mass


def _too_little(lot: StockLot, wanted: Decimal) -> BadInput:
    lot.refresh_from_db()
    message = _("%(lot)s holds %(on_hand_lb)s; %(wanted)s cannot be taken from it.") % {
        "lot": lot.code,
        "on_hand_lb": house().weighed(lot.on_hand_lb),
        "wanted": house().weighed(wanted),
    }
    return BadInput(message, fields={"mass_lb": message})
