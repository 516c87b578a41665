"""Everything the tanks have still to make, read once: the ground of every due date.

What is begun or planned stands in its tank, by due date. What no load covers yet is dealt into
full loads by recipe, what is due first in the first; each goes by its earliest due date to the
tank that has it made first. All of it on working days after today: what is made today is a gain
that nobody counts on. A tank that holds a made batch counts as filled off by then. Stock that is
still to be bought is not counted: nothing says how long it takes.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from decimal import Decimal
from typing import Final

from django.db.models import F

from blendshop.errors import BadInput
from formulas.engine.plant.changeover import TankBatch
from orders.models import Batch, BatchPart, Order, OrderLine, Package, PlantProfile, Tank, TankEntry
from orders.planning.capacity import TankDays, TankPace
from orders.planning.default_load import default_load
from orders.planning.loads import LoadPart, filled_loads, load_gal
from orders.planning.planned_recipes import making_revision_ids
from orders.planning.read_plans import read_plans
from orders.planning.recipe_meetings import (
    UNKNOWN,
    RecipeMeetings,
    recipe_shares_pct,
)
from orders.planning.unplanned_lines import unplanned_parts
from orders.tanks.contents import last_in
from orders.tanks.heel import begun_on_by_batch, heel_after

_TO_MAKE: Final = (Batch.Status.PLANNED, Batch.Status.CHARGING)
_MADE: Final = (Batch.Status.MADE, Batch.Status.HELD)
#: Of loads that are made already and wait for their reading or their release.
MADE_ALREADY: Final = 0


@dataclass(frozen=True, slots=True)
class WantedBlend:
    """So many packages (in bulk: whole gallons) of a recipe: percent by weight by stock code."""

    package: Package
    quantity: int
    shares_pct: Mapping[str, float]


@dataclass(frozen=True, slots=True)
class _Load:
    """Gallons of one load, and the orders that have some of it, the earliest due first."""

    volume_gal: Decimal
    parts: tuple[LoadPart, ...]


#: What is wanted as loads of one tank.
_Split = tuple[Tank, tuple[_Load, ...]]


@dataclass(frozen=True, slots=True)
class Backlog:
    """``days`` hold all that is open; ``order_days`` says on which day each order is made.

    Days are numbers of working days from today on, as ``capacity`` counts them.
    """

    tanks: tuple[Tank, ...]
    days: TankDays
    recipes: RecipeMeetings
    order_days: Mapping[int, int]

    def day_made(self, wanted: Sequence[WantedBlend]) -> int:
        """The day on which all of it is made, after everything that is open.

        0 where no tank is in use, of which nothing can be said.
        """
        days, last_day = self.days, 0
        for each in wanted if self.tanks else ():
            number = self.recipes.add(each.shares_pct)
            line = OrderLine(package=each.package, quantity=each.quantity)
            tried = [
                _put(days.copy(), number, split)
                for split in _splits([LoadPart(line, each.quantity)], self.tanks)
            ]
            day, days = min(tried, key=lambda found: found[0])
            last_day = max(last_day, day)
        return last_day


def read_backlog(profile: PlantProfile) -> Backlog:
    """The open loads and lines of this minute; a fixed number of queries and one a busy tank."""
    everything = list(Tank.objects.order_by("capacity_gal", "name"))
    tanks = tuple(tank for tank in everything if tank.active)
    recipes = RecipeMeetings(everything)
    batches = _batches_to_make()
    charging = {b.tank_id for b in batches if b.status == Batch.Status.CHARGING}
    days = TankDays(
        [_pace(tank, profile) for tank in everything],
        recipes.needs_flush,
        _in_the_tanks([tank for tank in everything if tank.pk not in charging], recipes),
    )
    order_days = _made_orders()
    orders_of = _orders_of(batches)
    plans = read_plans(batches)
    for batch in batches:
        number = recipes.hold(plans[batch.pk].in_tank)
        day = days.put(batch.tank_id, number, begun=batch.status == Batch.Status.CHARGING)
        for order in orders_of[batch.pk]:
            order_days[order] = max(order_days.get(order, 0), day)
    if tanks:
        _put_unplanned(days, recipes, tanks, order_days)
    return Backlog(tanks, days, recipes, order_days)


def _put_unplanned(
    days: TankDays, recipes: RecipeMeetings, tanks: Sequence[Tank], order_days: dict[int, int]
) -> None:
    """Every load nobody has planned yet, by its earliest due date."""
    by_recipe, places = _unplanned_by_recipe()
    shares = recipe_shares_pct(by_recipe)
    recipes.fetch({code for of_one in shares.values() for code in of_one})
    # Tanks of one size make the same loads, and the first of them is chosen anyway.
    by_size = {(tank.capacity_gal, tank.smallest_gal): tank for tank in reversed(tanks)}
    sizes = [tank for tank in tanks if tank in by_size.values()]
    to_put: list[tuple[int, _Load, int, int]] = []
    for revision, parts in by_recipe.items():
        number = recipes.add(shares[revision])
        tank, loads = min(_splits(parts, sizes), key=_fewest_loads)
        to_put += [(places[load.parts[0].line.pk], load, number, tank.pk) for load in loads]
    to_put.sort(key=lambda each: each[0])
    for _, load, number, otherwise in to_put:
        day = days.put_soonest(number, load.volume_gal, otherwise)
        for part in load.parts:
            order = part.line.order_id
            order_days[order] = max(order_days.get(order, 0), day)


def _splits(parts: Sequence[LoadPart], tanks: Sequence[Tank]) -> list[_Split]:
    """As loads of each tank that takes it; where none does, the load it is priced for."""
    found = []
    for tank in tanks:
        try:
            loads = filled_loads(parts, tank)
        except BadInput:
            continue
        found.append((tank, tuple(_Load(load_gal(load), load) for load in loads)))
    if not found:
        priced = default_load(load_gal(parts), tanks)
        found.append((priced.tank, (_Load(priced.volume_gal, tuple(parts)),) * priced.loads))
    return found


def _fewest_loads(split: _Split) -> tuple[int, int]:
    """The planning page chooses by it: the fewest loads, then the smallest tank."""
    tank, loads = split
    return len(loads), tank.capacity_gal


def _put(days: TankDays, number: int, split: _Split) -> tuple[int, TankDays]:
    tank, loads = split
    return days.put_all_soonest(number, [load.volume_gal for load in loads], tank.pk), days


def _pace(tank: Tank, profile: PlantProfile) -> TankPace:
    return TankPace(
        key=tank.pk,
        smallest_gal=Decimal(tank.smallest_gal),
        capacity_gal=Decimal(tank.capacity_gal),
        day_min=profile.minutes_a_day,
        load_min=TankPace.minutes_a_load(profile.minutes_a_day, tank.loads_a_day),
        flush_min=profile.minutes_a_flush,
        in_use=tank.active,
    )


def _in_the_tanks(tanks: Sequence[Tank], recipes: RecipeMeetings) -> dict[int, int]:
    """The number of what is in each tank by its ledger; a tank that is clean is left out."""
    entries = {entry.tank_id: entry for entry in TankEntry.objects.newest()}
    begun_on = begun_on_by_batch(entries.values())
    found = {}
    for tank in tanks:
        held = last_in(tank, heel_after(tank, entries.get(tank.pk), begun_on)).held
        if held is not None:
            found[tank.pk] = recipes.hold(held) if isinstance(held, TankBatch) else UNKNOWN
    return found


def _batches_to_make() -> list[Batch]:
    """Loads that are begun, then those that are planned, each by due date."""
    batches = Batch.objects.filter(status__in=_TO_MAKE).defer("plan").by_due_date()
    return sorted(batches, key=lambda batch: batch.status != Batch.Status.CHARGING)


def _orders_of(batches: Sequence[Batch]) -> Mapping[int, list[int]]:
    found: dict[int, list[int]] = defaultdict(list)
    parts = BatchPart.objects.filter(batch__in=batches).order_by()
    for batch, order in parts.values_list("batch", "order_line__order"):
        found[batch].append(order)
    return found


def _made_orders() -> dict[int, int]:
    """Open orders with something made that is not released yet."""
    parts = BatchPart.objects.filter(
        batch__status__in=_MADE, order_line__order__in=Order.objects.open()
    )
    return dict.fromkeys(parts.order_by().values_list("order_line__order", flat=True), MADE_ALREADY)


def _unplanned_by_recipe() -> tuple[Mapping[int, list[LoadPart]], Mapping[int, int]]:
    """What no load covers, by the revision that makes it, and each line's place by due date."""
    states = (Order.Status.OPEN, Order.Status.PLANNED)
    rows = OrderLine.objects.filter(order__status__in=states).annotate(due_on=F("order__due_on"))
    lines = list(
        rows.only("quantity", "revision", "order", "package").order_by(
            "due_on", "order", "position"
        )
    )
    packages = Package.objects.in_bulk({line.package_id for line in lines})
    for line in lines:
        line.package = packages[line.package_id]
    revisions = making_revision_ids(lines)
    found: dict[int, list[LoadPart]] = defaultdict(list)
    for part in unplanned_parts(lines):
        found[revisions[part.line.pk]].append(part)
    return found, {line.pk: place for place, line in enumerate(lines)}
