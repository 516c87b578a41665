"""What the tanks' ledgers say of the batches of many years, written many at a time.

Each was begun in an empty tank, finished, filled to the last and rinsed after. A tank the demo has
something in is left alone: what stands in it happened later.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from datetime import datetime
from decimal import Decimal
from typing import Final

from blendshop.accounts.models import User
from orders.frozen.tank_contents import TankContents, TankState
from orders.models import Batch, Tank, TankEntry, TankRinse
from orders.production.made_portions import AS_CHARGED
from orders.tanks.actions.draining import MEASURED
from orders.tanks.mixing import mixed, planned_portions

_WATER_LB: Final = Decimal(500)
_RINSED: Final = TankContents(
    state=TankState.EMPTY, basis=f"Rinsed with {_WATER_LB} lb of water, to approved disposal."
)


def free_tanks(tanks: Sequence[Tank]) -> list[Tank]:
    """Those the demo has left empty."""
    held = {entry.tank_id: entry.held for entry in TankEntry.objects.newest()}
    return [tank for tank in tanks if tank.pk in held and held[tank.pk].state is TankState.EMPTY]


def add_entries(batches: Iterable[tuple[Batch, datetime]], worker: User) -> None:
    """The entries of batches that were made as planned, in their order, each at its moment."""
    made = list(batches)
    signed = {"by": worker, "who": str(worker)}
    rinses = TankRinse.objects.bulk_create(
        TankRinse(
            tank_id=batch.tank_id,
            batch=batch,
            water_lb=_WATER_LB,
            residue_lb=Decimal(0),
            destination=TankRinse.Destination.DISPOSED,
            key=f"large-rinse-{batch.pk}",
            at=at,
            **signed,
        )
        for batch, at in made
    )
    TankEntry.objects.bulk_create(
        TankEntry(
            tank_id=batch.tank_id,
            batch=batch,
            kind=kind,
            contents=held.to_json(),
            rinse=rinse if kind == TankEntry.Kind.RINSED else None,
            key=f"large-{kind}-{batch.pk}",
            at=at,
            **signed,
        )
        for (batch, at), rinse in zip(made, rinses, strict=True)
        for kind, held in _held(batch)
    )


def _held(batch: Batch) -> Iterator[tuple[TankEntry.Kind, TankContents]]:
    kind = TankEntry.Kind
    whole = mixed(batch, planned_portions(batch), None, AS_CHARGED)
    yield kind.BEGUN, TankContents(state=TankState.CHARGING, basis=_RINSED.basis)
    yield kind.FINISHED, whole
    yield kind.DRAINED, whole.heel_of_lb(0.0, MEASURED)
    yield kind.RINSED, _RINSED
