"""What is in a tank now, and what of it the next batch is charged onto."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from datetime import datetime
from typing import Final

from django.utils.translation import gettext_lazy

from blendshop.figures.readers import house
from formulas.engine.mark import Mark
from formulas.engine.plant.load import Heel
from orders.frozen.tank_contents import HeldBatch, HeldStock, TankContents, TankState
from orders.models import Batch, Tank, TankEntry
from orders.tanks.mixing import mixed, planned_portions, under, under_batches

#: Share of a tank's capacity that stays in it when it is drained, percent.
HEEL_PCT: Final = 1.0
HEEL_BASIS: Final = gettext_lazy(
    "Heel taken as 1 % of the tank's capacity (common practice, no source): measure your own."
)
#: What a drained tank's amount goes by when nobody measured it.
USUAL_HEEL: Final = f"usual heel, 1 % of the tank's capacity ({Mark.COMMON_PRACTICE})"
BY_PLAN: Final = "as planned"

NOT_KNOWN: Final = TankContents(state=TankState.UNKNOWN)


@dataclass(frozen=True, slots=True)
class UnknownTank:
    """Nobody has signed what is in it: no batch is charged until somebody has."""

    words: str


@dataclass(frozen=True, slots=True)
class EmptyTank:
    """Empty and rinsed, since when and by whom signed."""

    words: str
    since: datetime
    who: str


@dataclass(frozen=True, slots=True)
class HeelLeft:
    """What the next batch is mixed with.

    ``is_expected`` says that a batch is still in the tank and the usual heel of it is meant.
    ``batches`` with the pounds of each, through heels of heels; ``stocks`` with their traits and
    shares, empty of meaning where ``knows_stocks`` is False.
    """

    heel: Heel
    words: str
    product: str
    batches: tuple[HeldBatch, ...]
    stocks: tuple[HeldStock, ...]
    knows_stocks: bool
    is_expected: bool

    @property
    def batch_numbers(self) -> tuple[str, ...]:
        return tuple(each.number for each in self.batches)


TankHeel = UnknownTank | EmptyTank | HeelLeft


def newest_entry(tank: Tank) -> TankEntry | None:
    """The entry that holds now; None for a tank nobody has signed yet."""
    entry: TankEntry | None = tank.ledger.select_related("batch", "tank").order_by("-pk").first()
    return entry


def holds_batch(batch: Batch) -> bool:
    """Whether the batch is in its tank, neither filled nor drained."""
    entry = newest_entry(batch.tank)
    return entry is not None and entry.batch_id == batch.pk and entry.held.is_occupied


def heel_of(tank: Tank) -> TankHeel:
    """What a batch planned or charged next finds in the tank; a few queries."""
    return heel_after(tank, newest_entry(tank))


def heel_after(
    tank: Tank, entry: TankEntry | None, begun_on: Mapping[int, TankContents] | None = None
) -> TankHeel:
    """The same, of a tank whose newest entry is at hand.

    Of many tanks also what their batches were begun on (``begun_on_by_batch``).
    """
    held = NOT_KNOWN if entry is None else entry.held
    if entry is None or held.state is TankState.UNKNOWN or _is_abandoned(entry):
        return UnknownTank(not_known_words(tank, entry))
    if held.state is TankState.EMPTY:
        return EmptyTank(f"{tank.name} is empty and rinsed.", entry.at, entry.who)
    expected = held.is_occupied
    if held.state is TankState.CHARGING and entry.batch is not None:
        batch = entry.batch
        onto = under(batch) if begun_on is None else begun_on.get(batch.pk)
        held = mixed(batch, planned_portions(batch), onto, BY_PLAN)
    if expected:
        held = usual_heel(held, tank)
    return HeelLeft(
        heel=Heel(held.mass_lb, held.volume_gal, held.analysis),
        words=_words(held, is_expected=expected),
        product=held.product,
        batches=held.batches,
        stocks=held.stocks,
        knows_stocks=held.knows_stocks,
        is_expected=expected,
    )


def begun_on_by_batch(entries: Iterable[TankEntry]) -> Mapping[int, TankContents]:
    """What the batches being charged by these entries were begun on, in one query."""
    charging = (entry for entry in entries if entry.held.state is TankState.CHARGING)
    return under_batches(entry.batch for entry in charging if entry.batch is not None)


def usual_heel(held: TankContents, tank: Tank) -> TankContents:
    """What usually stays of these contents once the tank is drained."""
    volume_gal = min(usual_heel_gal(tank), held.volume_gal)
    share = volume_gal / held.volume_gal if held.volume_gal > 0 else 0.0
    return held.heel_of_lb(share * held.mass_lb, USUAL_HEEL)


def usual_heel_gal(tank: Tank) -> float:
    return HEEL_PCT / 100 * tank.capacity_gal


def not_known_words(tank: Tank, entry: TankEntry | None) -> str:
    """Why the contents are not known, in a sentence."""
    if entry is not None and entry.batch is not None and _is_abandoned(entry):
        return f"{entry.batch.number} was begun in {tank.name} and cancelled."
    return f"Nobody has signed what is in {tank.name}."


def _is_abandoned(entry: TankEntry) -> bool:
    """Whether a batch was begun and given up, so that nobody knows how much of it is there."""
    return (
        entry.held.state is TankState.CHARGING
        and entry.batch is not None
        and entry.batch.status == Batch.Status.CANCELLED
    )


def _words(held: TankContents, *, is_expected: bool) -> str:
    amount = f"{house().volume(held.volume_gal, 0)} ({house().mass(held.mass_lb, 0)})"
    if is_expected:
        return f"{held.product} is in the tank; about {amount} of it will be left: {held.basis}."
    return f"{amount} of {held.product} left in the tank: {held.basis}."
