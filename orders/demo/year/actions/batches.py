"""The year's loads: planned, charged, read, released, filled, their tanks rinsed after."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from datetime import date, datetime
from decimal import Decimal
from random import Random
from typing import Final

from django.db.models import prefetch_related_objects

from blendshop.accounts.models import User
from formulas.engine_bridge import exact
from formulas.models import BlendRevision
from orders.demo.year import calendar
from orders.demo.year.actions.costs import Costs
from orders.demo.year.actions.dated import numbers, put_in
from orders.demo.year.actions.lots import add_lots, finish_lots
from orders.demo.year.actions.orders import Placed
from orders.demo.year.actions.plans import Patterns, planned
from orders.demo.year.batches import CHARGED_AT, Load
from orders.demo.year.corrections import courses_of
from orders.demo.year.lots import Use, deliveries_of
from orders.demo.year.quotes import SEED
from orders.demo.year.weighing import Weighed, weighed
from orders.frozen.load_plan import LoadPlan
from orders.models import Batch, BatchPart, StockLot, Tank
from orders.planning.loads import LoadPart
from orders.planning.parts import unsaved_parts

#: Minutes after midnight.
PLANNED_AT: Final = 15 * 60 + 30
RELEASED_AT: Final = 9 * 60
DONE: Final = 12
_WATER: Final = "WATER"
Status = Batch.Status


@dataclass(frozen=True, slots=True)
class Made:
    """A load of the year with its rows; ``lots`` by stock code, none for water."""

    load: Load
    placed: tuple[Placed, ...]
    batch: Batch
    plan: LoadPlan
    weighed: Weighed
    lots: Mapping[str, StockLot]
    parts: tuple[BatchPart, ...]

    def at(self, minutes: int) -> datetime:
        """So long after its charging began."""
        return calendar.moment(self.load.made_on, CHARGED_AT + minutes)

    @property
    def done_at(self) -> datetime:
        return self.at(self.weighed.minutes + DONE)

    @property
    def released_at(self) -> datetime:
        return calendar.moment(self.load.released_on, RELEASED_AT)


@dataclass(frozen=True, slots=True)
class _Thought:
    """A load before it is written."""

    load: Load
    placed: tuple[Placed, ...]
    tank: Tank
    pattern: LoadPlan
    weighed: Weighed


def add_batches(
    loads: Sequence[Load],
    placed: Sequence[Placed],
    revisions: Mapping[str, BlendRevision],
    patterns: Patterns,
    worker: User,
    today: date,
) -> list[Made]:
    """The batches in time, planned and charged from lots that are written with them."""
    chance = Random(SEED)  # noqa: S311 - the same plant each time, no secret
    tanks = list(Tank.objects.order_by("capacity_gal"))
    thoughts = _thought(loads, placed, revisions, tanks, patterns, chance)
    lots_of = _lots(thoughts, worker, today, chance)
    costs = Costs()
    plans = [
        planned(thought.pattern, lots, costs, thought.load.planned_on)
        for thought, lots in zip(thoughts, lots_of, strict=True)
    ]
    by_number = numbers("B", (thought.load.planned_on for thought in thoughts))
    batches = put_in(
        Batch,
        (
            Batch(
                number=number,
                load_number=1,
                load_count=1,
                tank=thought.tank,
                status=Status.RELEASED,
                target_gal=plan.volume_gal,
                target_lb=plan.mass_lb,
                plan=plan.to_json(),
                created_by=worker,
                created_at=calendar.moment(thought.load.planned_on, PLANNED_AT),
            )
            for number, thought, plan in zip(by_number, thoughts, plans, strict=True)
        ),
    )
    made = [
        Made(
            load=thought.load,
            placed=thought.placed,
            batch=batch,
            plan=plan,
            weighed=thought.weighed,
            lots=lots,
            parts=tuple(_parts(thought, plan, batch)),
        )
        for thought, plan, batch, lots in zip(thoughts, plans, batches, lots_of, strict=True)
    ]
    put_in(BatchPart, (part for each in made for part in each.parts))
    return made


def _thought(
    loads: Sequence[Load],
    placed: Sequence[Placed],
    revisions: Mapping[str, BlendRevision],
    tanks: Sequence[Tank],
    patterns: Patterns,
    chance: Random,
) -> list[_Thought]:
    plans = []
    for load in loads:
        gal = sum(float(placed[order.number].line.volume_gal) for order in load.orders)
        plans.append(patterns.of(revisions[load.blend], tanks[load.tank], gal))
    return [
        _Thought(
            load=load,
            placed=tuple(placed[order.number] for order in load.orders),
            tank=tanks[load.tank],
            pattern=plan,
            weighed=weighed(plan, course, chance),
        )
        for load, plan, course in zip(loads, plans, courses_of(plans), strict=True)
    ]


def _lots(
    thoughts: Sequence[_Thought], worker: User, today: date, chance: Random
) -> list[dict[str, StockLot]]:
    """Of each load the lot of each stock; a load takes a stock from one lot."""
    uses, places = [], []
    for place, thought in enumerate(thoughts):
        taken: dict[str, Decimal] = {}
        for weight in thought.weighed.weights:
            if weight.code != _WATER and not weight.is_reversed:
                taken[weight.code] = taken.get(weight.code, Decimal(0)) + exact(weight.lb)
        uses += [Use(code, lb, thought.load.made_on) for code, lb in taken.items()]
        places += [place] * len(taken)
    lot_of, deliveries = deliveries_of(uses, today, chance)
    densities = {
        step.code: step.density_lb_per_gal for thought in thoughts for step in thought.pattern.steps
    }
    lots = add_lots(deliveries, densities, worker)
    finish_lots(lots, deliveries, worker)
    prefetch_related_objects(lots, "figures", "stock__analysis_figures")
    rows = {id(delivery): lot for delivery, lot in zip(deliveries, lots, strict=True)}
    found: list[dict[str, StockLot]] = [{} for _thought in thoughts]
    for use, place, delivery in zip(uses, places, lot_of, strict=True):
        found[place][use.code] = rows[id(delivery)]
    return found


def _parts(thought: _Thought, plan: LoadPlan, batch: Batch) -> Iterator[BatchPart]:
    load = tuple(LoadPart(each.line, each.line.quantity) for each in thought.placed)
    labels = {each.line.pk: plan.printed_pct for each in thought.placed}
    for part in unsaved_parts(load, plan, labels):
        part.batch = batch
        yield part
