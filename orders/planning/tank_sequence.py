"""What comes next in each tank: the order of its batches that needs the fewest flushes."""

from __future__ import annotations

from collections import defaultdict, deque
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from operator import itemgetter
from typing import Final

from blendshop.errors import BadInput
from formulas.engine.plant import changeover as engine
from formulas.engine.problem import CompatibilityRule
from formulas.engine_bridge import saved_rules
from formulas.models import BlendRevision
from orders.models import Batch, BatchPart, OrderLine, Package, Tank, TankEntry
from orders.planning.loads import LoadPart, split_into_loads
from orders.planning.read_plans import listed_batches, read_plans
from orders.planning.same_recipe import made_as
from orders.tanks.contents import Change, LastIn, change_into, last_in
from orders.tanks.heel import (
    TankHeel,
    UnknownTank,
    begun_on_by_batch,
    heel_after,
    usual_heel_gal,
)

#: A part with its place by due date.
_Placed = tuple[int, LoadPart]


@dataclass(frozen=True, slots=True)
class SameBlend:
    """Planned batches of one recipe; ``loads`` is how few they would be when combined."""

    batches: tuple[Batch, ...]
    loads: int

    @property
    def numbers(self) -> list[str]:
        return [batch.number for batch in self.batches]

    @property
    def can_combine(self) -> bool:
        return self.loads < len(self.batches)


@dataclass(frozen=True, slots=True)
class TankSequence:
    """One tank: what is in it by the ledger, the batches waiting, and their suggested order."""

    tank: Tank
    found: TankHeel
    heel_gal: float
    changes: tuple[Change, ...]
    flushes: int
    flushes_as_given: int
    is_exact: bool
    same_blend: tuple[SameBlend, ...]

    @property
    def saved(self) -> int:
        """Flushes fewer than in the order of the due dates."""
        return self.flushes_as_given - self.flushes

    @property
    def is_known(self) -> bool:
        """Whether somebody has signed what is in the tank."""
        return not isinstance(self.found, UnknownTank)


def tank_sequences() -> list[TankSequence]:
    """Every tank in use with the batches planned for it, by name; a fixed number of queries."""
    return _sequences(list(Tank.objects.filter(active=True).order_by("name")), saved_rules())


def tank_sequence(tank: Tank, rules: Sequence[CompatibilityRule]) -> TankSequence:
    """The suggested order of the batches planned for a tank; as given means by due date."""
    return _sequences([tank], rules)[0]


def _sequences(tanks: Sequence[Tank], rules: Sequence[CompatibilityRule]) -> list[TankSequence]:
    planned = Batch.objects.filter(tank__in=tanks, status=Batch.Status.PLANNED)
    batches = listed_batches(planned.by_due_date())
    waiting: dict[int, list[Batch]] = {tank.pk: [] for tank in tanks}
    for batch in batches:
        waiting[batch.tank_id].append(batch)
    entries = {entry.tank_id: entry for entry in TankEntry.objects.newest().filter(tank__in=tanks)}
    revisions = BlendRevision.objects.filter(pk__in={batch.planned_revision for batch in batches})
    first = made_as(revisions.defer("answer").order_by("pk"))
    as_batches = {pk: plan.in_tank for pk, plan in read_plans(batches).items()}
    begun_on = begun_on_by_batch(entries.values())
    parts = _parts_by_due_date(batches)
    return [
        _sequence(tank, heel_after(tank, entries.get(tank.pk), begun_on), rules, waiting[tank.pk],
                  as_batches, first, parts)
        for tank in tanks
    ]  # fmt: skip


def _sequence(
    tank: Tank,
    found: TankHeel,
    rules: Sequence[CompatibilityRule],
    waiting: Sequence[Batch],
    as_batches: Mapping[int, engine.TankBatch],
    first: Mapping[int, int],
    parts: Mapping[int, Sequence[_Placed]],
) -> TankSequence:
    last = last_in(tank, found)
    heel_gal = usual_heel_gal(tank)
    by_number = {batch.number: batch for batch in waiting}
    plan = _changeover_plan(
        _Asked(
            batches=tuple(as_batches[batch.pk] for batch in waiting),
            rules=tuple(rules),
            heel_gal=heel_gal,
            last=last,
        )
    )
    into = {step.after: step for step in plan.steps}
    return TankSequence(
        tank=tank,
        found=found,
        heel_gal=heel_gal,
        changes=tuple(change_into(by_number[code], into.get(code)) for code in plan.order),
        flushes=plan.flushes,
        flushes_as_given=plan.flushes_as_given,
        is_exact=plan.is_exact,
        same_blend=tuple(_same_blend(waiting, tank, first, parts)),
    )


@dataclass(frozen=True, slots=True)
class _Asked:
    """What a tank's order follows from."""

    batches: tuple[engine.TankBatch, ...]
    rules: tuple[CompatibilityRule, ...]
    heel_gal: float
    last: LastIn


#: What was found last, the newest first: for the tanks of a plant more than once over.
_FOUND: Final[deque[tuple[_Asked, engine.ChangeoverPlan]]] = deque(maxlen=64)


def _changeover_plan(asked: _Asked) -> engine.ChangeoverPlan:
    """Pages of the plant ask it of the same loads again and again; kept while nothing changes."""
    for known, plan in _FOUND:
        if known == asked:
            return plan
    plan = engine.changeover_plan(
        asked.batches,
        asked.rules,
        heel_gal=asked.heel_gal,
        last=asked.last.held,
        last_gal=asked.last.heel_gal,
    )
    _FOUND.appendleft((asked, plan))
    return plan


def _parts_by_due_date(batches: Sequence[Batch]) -> dict[int, list[_Placed]]:
    """What is in each batch, as far as loads are dealt out by it."""
    packages = Package.objects.in_bulk()
    rows = BatchPart.objects.filter(batch__in=batches).order_by("order_line__order__due_on", "pk")
    values = rows.values_list("batch", "order_line", "order_line__package", "quantity")
    found: dict[int, list[_Placed]] = defaultdict(list)
    for place, (batch, line, package, quantity) in enumerate(values):
        of_line = OrderLine(pk=line, package=packages[package])
        found[batch].append((place, LoadPart(of_line, quantity)))
    return found


def _same_blend(
    waiting: Sequence[Batch],
    tank: Tank,
    first: Mapping[int, int],
    parts: Mapping[int, Sequence[_Placed]],
) -> list[SameBlend]:
    """Planned batches of one recipe: one load if they fit, else one after the other."""
    by_recipe: dict[int, list[Batch]] = {}
    for batch in waiting:
        by_recipe.setdefault(first[batch.planned_revision], []).append(batch)
    return [
        SameBlend(
            tuple(batches),
            _loads(len(batches), (part for batch in batches for part in parts[batch.pk]), tank),
        )
        for batches in by_recipe.values()
        if len(batches) > 1
    ]


def _loads(now: int, parts: Iterable[_Placed], tank: Tank) -> int:
    """Loads of all that the batches hold, by due date; as many as now if the tank refuses."""
    quantities: dict[OrderLine, int] = {}
    for _, part in sorted(parts, key=itemgetter(0)):
        quantities[part.line] = quantities.get(part.line, 0) + part.quantity
    try:
        return len(split_into_loads([LoadPart(*each) for each in quantities.items()], tank))
    except BadInput:
        return now
