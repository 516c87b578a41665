"""A tank as its page shows it: the one thing first, what is in it."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

from django.utils.translation import gettext as _

from formulas.engine.composition import in_label_order, with_total_n
from orders.frozen.tank_contents import TankContents, TankState
from orders.models import Tank, TankEntry
from orders.tanks.heel import NOT_KNOWN, TankHeel, UnknownTank, begun_on_by_batch, heel_after


@dataclass(frozen=True, slots=True)
class TankNow:
    """``says`` is what is in the tank in a few words; ``analysis`` with total N, label order."""

    tank: Tank
    entry: TankEntry | None
    held: TankContents
    says: str
    is_known: bool
    analysis: Mapping[str, float]

    @property
    def may_drain(self) -> bool:
        return self.held.state in (TankState.BATCH, TankState.HEEL)

    @property
    def may_rinse(self) -> bool:
        return not (self.is_known and self.held.is_occupied)


def tanks_now() -> list[TankNow]:
    """Every tank in use by name."""
    newest = {entry.tank_id: entry for entry in TankEntry.objects.newest()}
    begun_on = begun_on_by_batch(newest.values())
    tanks = Tank.objects.filter(active=True).order_by("name")
    return [
        _now(tank, newest.get(tank.pk), heel_after(tank, newest.get(tank.pk), begun_on))
        for tank in tanks
    ]


def tank_now(tank: Tank, entry: TankEntry | None) -> TankNow:
    """A tank by its newest entry."""
    return _now(tank, entry, heel_after(tank, entry))


def _now(tank: Tank, entry: TankEntry | None, found: TankHeel) -> TankNow:
    held = NOT_KNOWN if entry is None else entry.held
    return TankNow(
        tank=tank,
        entry=entry,
        held=held,
        says=found.words if isinstance(found, UnknownTank) else says(entry, held),
        is_known=not isinstance(found, UnknownTank),
        analysis=in_label_order(with_total_n(held.analysis)),
    )


def says(entry: TankEntry | None, held: TankContents) -> str:
    """What an entry says is in the tank from then on, in a few words."""
    number = entry.batch.number if entry is not None and entry.batch is not None else ""
    if held.state is TankState.EMPTY:
        return _("Empty and rinsed")
    if held.state is TankState.HEEL:
        return _("Heel of %(product)s") % {"product": held.product}
    if held.state is TankState.CHARGING:
        return _("%(number)s is being charged") % {"number": number}
    if held.state is TankState.BATCH:
        return held.product
    return _("Not known")
