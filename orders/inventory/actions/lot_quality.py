"""What a lot is worth using for: its certificate, and whether it is held for quality."""

from collections.abc import Mapping
from dataclasses import dataclass, field
from datetime import date
from decimal import Decimal
from typing import Any, Final, NoReturn

from django.core.files.base import File
from django.db import transaction
from django.utils.translation import gettext as _

from blendshop.accounts.models import User
from blendshop.errors import BadInput, IllegalMove
from blendshop.figures.readers import house
from blendshop.roles import Role, require_role
from blendshop.saving import save_valid
from orders.inventory.notices import tell_lot_released, tell_lots_held, tell_out_of_line
from orders.inventory.plausibility import confirmed_words, doubts, require_confirmed
from orders.models import LotEvent, LotFigure, LotMetal, StockLot

#: Who may write down what a certificate says.
RECORDERS: Final = (Role.PLANT, Role.FORMULATOR, Role.OFFICE)
HOLDERS: Final = (Role.PLANT, Role.FORMULATOR, Role.OFFICE)
#: Holding is everybody's duty, letting go is the formulator's judgement.
RELEASERS: Final = (Role.FORMULATOR,)

State = StockLot.State


@dataclass(frozen=True, slots=True)
class Certificate:
    """What the supplier's certificate says of a lot; ``source`` names it ("CoA 1234").

    ``figures`` are percent by weight by composition key, ``metals`` ppm by weight, the density
    lb/gal at a temperature in °F.
    """

    source: str = ""
    figures: Mapping[str, float] = field(default_factory=dict)
    metals: Mapping[str, float] = field(default_factory=dict)
    density_lb_per_gal: float | None = None
    density_temp_f: float | None = None
    file: "File[bytes] | None" = None

    @property
    def says_something(self) -> bool:
        return bool(self.figures or self.metals or self.density_lb_per_gal is not None)


def hold_lot(*, lot: StockLot, why: str, acting_user: User) -> list[StockLot]:
    """Hold a lot and what was split from it for quality; returns the lots held by this call.

    A held lot is never suggested and cannot be used. Holding a held lot changes nothing.
    """
    require_role(acting_user, *HOLDERS)
    if not why.strip():
        refuse("why", _("Say why the lot is held."))
    with transaction.atomic():
        held: list[StockLot] = []
        parts = [lot]
        while parts:
            part = parts.pop(0)
            # Guarded: what somebody else has held already keeps its first reason.
            free = StockLot.objects.filter(pk=part.pk).exclude(state=State.HELD)
            if free.update(state=State.HELD, held_reason=why.strip()[:400]) == 1:
                note_lot(part, acting_user, part.state, State.HELD, why)
                part.state, part.held_reason = State.HELD, why.strip()[:400]
                held.append(part)
            # Looked up only now: a split that was under way has been waited for above.
            parts += StockLot.objects.filter(split_from=part).order_by("pk")
        if held:
            tell_lots_held(held, why, by=acting_user)
    return held


def release_lot(*, lot: StockLot, why: str, acting_user: User) -> None:
    """Let a held lot be used again, with a reason. Only this lot: each split has its own."""
    require_role(acting_user, *RELEASERS)
    if not why.strip():
        refuse("why", _("Say why the lot may be used."))
    with transaction.atomic():
        held = StockLot.objects.filter(pk=lot.pk, state=State.HELD)
        if held.update(state=State.OK, held_reason="") != 1:
            raise IllegalMove(_("%(lot)s is not held.") % {"lot": lot.code})
        note_lot(lot, acting_user, State.HELD, State.OK, why)
        settle_state(lot, acting_user)
        tell_lot_released(lot, why, by=acting_user)


def extend_lot(*, lot: StockLot, expires_on: date, why: str, acting_user: User) -> None:
    """Give a lot a later last day of use, after a test that stands in the reason."""
    require_role(acting_user, *RELEASERS)
    if not why.strip():
        refuse("why", _("Say what was tested and found."))
    with transaction.atomic():
        lot = StockLot.objects.select_for_update().get(pk=lot.pk)
        if lot.expires_on is None:
            raise IllegalMove(_("%(lot)s has no last day of use.") % {"lot": lot.code})
        if expires_on <= lot.expires_on:
            refuse(
                "expires_on",
                _("Later than %(expires_on)s.") % {"expires_on": house().date(lot.expires_on)},
            )
        told = f"Last day moved from {lot.expires_on} to {expires_on}: {why.strip()}"
        StockLot.objects.filter(pk=lot.pk).update(expires_on=expires_on)
        note_lot(lot, acting_user, lot.state, lot.state, told)


def figures_of(certificate: Certificate | None) -> dict[str, Any]:
    """The certificate's figures that can be held against the stock's typical ones."""
    if certificate is None:
        return {}
    return {
        "density_lb_per_gal": certificate.density_lb_per_gal,
        "figures": certificate.figures,
    }


def record_certificate(
    *,
    lot: StockLot,
    certificate: Certificate,
    acting_user: User,
    again: Mapping[str, Decimal | float] | None = None,
) -> None:
    """Replace what a lot's certificate says; what it said before stays in the lot's history.

    ``again`` repeats the figures that ``plausibility`` doubts, by its names; BadInput names those
    still missing.
    """
    require_role(acting_user, *RECORDERS)
    doubted = doubts(lot.stock, **figures_of(certificate))
    confirmed = require_confirmed(doubted, again or {})
    with transaction.atomic():
        lot = StockLot.objects.select_for_update().get(pk=lot.pk)
        before = {
            "figures": {figure.key: figure.pct for figure in lot.figures.all()},
            "metals": {figure.metal: figure.ppm for figure in lot.metals.all()},
            "density_lb_per_gal": lot.density_lb_per_gal,
            "certificate": lot.certificate.name,
        }
        lot.figures.all().delete()
        lot.metals.all().delete()
        write_certificate(lot, certificate, acting_user)
        told = " ".join(filter(None, ["Certificate recorded.", confirmed_words(doubted)]))
        data = {"before": before} | ({"confirmed": confirmed} if confirmed else {})
        note_lot(lot, acting_user, lot.state, lot.state, told, **data)
        if doubted:
            tell_out_of_line(lot, doubted, by=acting_user)


def settle_state(lot: StockLot, acting_user: User) -> None:
    """An empty lot is used up, one that holds something again is not; a held one stays held."""
    lot.refresh_from_db()
    right = State.OK if lot.on_hand_lb else State.EXHAUSTED
    if lot.state == State.HELD or lot.state == right:
        return
    old = lot.state
    StockLot.objects.filter(pk=lot.pk).update(state=right)
    lot.state = right
    note_lot(lot, acting_user, old, right, "")


def write_certificate(lot: StockLot, certificate: Certificate, acting_user: User) -> None:
    source = certificate.source.strip()
    if certificate.says_something and not source:
        refuse("source", _("Name the certificate the figures come from."))
    lot.density_lb_per_gal = certificate.density_lb_per_gal
    lot.density_temp_f = certificate.density_temp_f
    lot.density_source = source if certificate.density_lb_per_gal is not None else ""
    if certificate.file is not None:
        lot.certificate = certificate.file
    save_valid(lot, acting_user)
    for key, pct in certificate.figures.items():
        save_valid(LotFigure(lot=lot, key=key, pct=pct, source=source), acting_user)
    for metal, ppm in certificate.metals.items():
        save_valid(LotMetal(lot=lot, metal=metal, ppm=ppm, source=source), acting_user)


def refuse(field_name: str, message: str, cause: Exception | None = None) -> NoReturn:
    raise BadInput(message, fields={field_name: message}) from cause


def note_lot(lot: StockLot, acting_user: User, old: str, new: str, why: str, **data: Any) -> None:
    LotEvent.objects.create(
        lot=lot,
        by=acting_user,
        who=str(acting_user),
        from_status=old,
        to_status=new,
        why=why[:400],
        data=data,
    )
