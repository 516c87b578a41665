"""A batch comes into a tank: it must be free, and what was in it goes into the batch."""

from collections.abc import Sequence
from dataclasses import replace

from blendshop.accounts.models import User
from blendshop.errors import IllegalMove
from orders.frozen.tank_contents import TankContents, TankState
from orders.models import Batch, HeelCarried, Tank, TankEntry
from orders.tanks.actions.ledger import locked, write_entry
from orders.tanks.contents import not_free, taken_by_another
from orders.tanks.heel import NOT_KNOWN, newest_entry
from orders.tanks.mixing import Portion, mixed, under

Kind = TankEntry.Kind


def require_free(tank: Tank, batch: Batch) -> TankContents:
    """What the batch is charged onto; IllegalMove while another is in the tank or nobody knows."""
    if why := not_free(tank, batch):
        raise IllegalMove(why)
    entry = newest_entry(tank)
    return NOT_KNOWN if entry is None else entry.held


def require_not_taken(batch: Batch) -> None:
    """IllegalMove when another batch has come into the tank since this one was begun."""
    entry = newest_entry(batch.tank)
    if entry is not None and (why := taken_by_another(entry, batch)):
        raise IllegalMove(why)


def begin_batch(*, batch: Batch, acting_user: User) -> TankEntry:
    """The first charge goes in; what was in the tank counts for the batch from now on."""
    tank = locked(batch.tank)
    held = require_free(tank, batch)
    entry = write_entry(
        tank=tank,
        kind=Kind.BEGUN,
        held=replace(held, state=TankState.CHARGING),
        key=f"begun:{batch.number}",
        acting_user=acting_user,
        batch=batch,
    )
    earlier = Batch.objects.in_bulk([each.number for each in held.batches], field_name="number")
    for each in held.batches:
        if each.lb > 0 and each.number in earlier:
            HeelCarried.objects.create(
                entry=entry,
                of=earlier[each.number],
                into=batch,
                mass_lb=each.lb,
                share=each.share,
            )
    return entry


def finish_batch(
    *, batch: Batch, portions: Sequence[Portion], basis: str, acting_user: User
) -> TankEntry:
    """Everything is in: the tank holds the batch, ``portions`` on what it was begun on."""
    tank = locked(batch.tank)
    require_not_taken(batch)
    times = batch.tank_entries.filter(kind=Kind.FINISHED).count() + 1
    return write_entry(
        tank=tank,
        kind=Kind.FINISHED,
        held=mixed(batch, portions, under(batch), basis),
        key=f"finished:{batch.number}:{times}",
        acting_user=acting_user,
        batch=batch,
    )
