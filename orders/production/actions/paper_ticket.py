"""A load that was weighed from the printed ticket: every weight and lot of it in one go."""

from __future__ import annotations

from collections.abc import Collection, Sequence
from dataclasses import dataclass
from datetime import datetime
from decimal import Decimal
from typing import Final

from django.db import transaction
from django.utils.translation import gettext as _

from blendshop.accounts.models import User
from blendshop.errors import BadInput, ChangedMeanwhile, DomainError
from blendshop.roles import require_role
from orders.models import Batch, Charge, StockLot
from orders.production.actions.batches import mark_made
from orders.production.actions.charging import (
    CHARGERS,
    locked,
    positive_pounds,
    require_key,
    same_charge,
    write_charge,
)
from orders.records.moves import note

#: More than any ticket has.
_MOST_WEIGHTS: Final = 99


@dataclass(frozen=True, slots=True)
class PaperWeight:
    """One weight of the ticket; ``place`` is its line, ``confirmed`` the questions said yes to."""

    place: str
    step: int
    lot: StockLot | None
    mass_lb: Decimal
    confirmed: Collection[str] = ()


class PaperTicketRefused(BadInput):
    """Nothing is written. ``reasons`` are what is wrong, by the weight's place."""

    def __init__(self, reasons: dict[str, DomainError]) -> None:
        self.reasons = reasons
        super().__init__(
            "Nothing is saved yet: some weights of the ticket need a second look.",
            fields={place: reason.message for place, reason in reasons.items()},
        )


def made_from_paper(
    *,
    batch: Batch,
    weights: Sequence[PaperWeight],
    key: str,
    acting_user: User,
    weighed_at: datetime | None = None,
) -> list[Charge]:
    """Write down every weight of the ticket and that the batch is mixed, or nothing at all.

    Each weight is looked at as if it had come from the charging screen. The same key again gives
    the charges that are there. Raises PaperTicketRefused naming each weight that is wrong,
    IllegalMove while a stock has no weight.
    """
    require_role(acting_user, *CHARGERS)
    require_key(key)
    keys = _keys(key, len(weights))
    with transaction.atomic():
        batch = locked(batch)
        if done := list(Charge.objects.filter(key__in=_keys(key, _MOST_WEIGHTS)).order_by("pk")):
            return _same_ticket(done, batch, weights)
        written: list[Charge] = []
        reasons: dict[str, DomainError] = {}
        for each, weight in zip(keys, weights, strict=True):
            try:
                written.append(_write(batch, weight, each, acting_user, weighed_at))
            except DomainError as refused:
                reasons[weight.place] = refused
        if reasons:
            raise PaperTicketRefused(reasons)
        note(batch, acting_user=acting_user, why="Weighed from the printed ticket.")
        mark_made(batch=batch, acting_user=acting_user)
    return written


def _keys(key: str, count: int) -> list[str]:
    """Of each weight of the ticket, in its order."""
    return [f"{key}-{number}" for number in range(1, count + 1)]


def _same_ticket(
    done: Sequence[Charge], batch: Batch, weights: Sequence[PaperWeight]
) -> list[Charge]:
    if len(done) != len(weights):
        raise ChangedMeanwhile(
            _("This ticket is already saved with other weights; look at the batch.")
        )
    return [
        same_charge(charge, batch, weight.step, weight.lot, positive_pounds(weight.mass_lb))
        for charge, weight in zip(done, weights, strict=True)
    ]


def _write(
    batch: Batch, weight: PaperWeight, key: str, acting_user: User, weighed_at: datetime | None
) -> Charge:
    """One weight; a refusal leaves what was written before it, for the next to be looked at."""
    with transaction.atomic():
        return write_charge(
            batch,
            weight.step,
            weight.lot,
            positive_pounds(weight.mass_lb),
            key,
            acting_user,
            weighed_at=weighed_at,
            confirmed=weight.confirmed,
            in_order=False,  # behind a refused weight every later one would be out of order
        )
