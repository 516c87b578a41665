"""What going over to the next batch asks for, by what the ledger says is in its tank.

The engine judges what a heel meets (``formulas.engine.plant.changeover``); this module tells it
what is really in the tank.
"""

from __future__ import annotations

from dataclasses import dataclass

from formulas.engine.plant import changeover as engine
from formulas.engine.problem import Stock
from formulas.engine_bridge import saved_rules
from orders.frozen.load_plan import FrozenStock
from orders.models import Batch, Tank, TankEntry
from orders.tanks.heel import (
    EmptyTank,
    TankHeel,
    UnknownTank,
    heel_after,
    heel_of,
    newest_entry,
    usual_heel_gal,
)


@dataclass(frozen=True, slots=True)
class Change:
    """Going over to a batch: what it asks for, in words.

    ``needs_flush`` stops the tank; ``needs_look`` keeps every batch out of it until somebody has
    signed what is in it, or rinsed it.
    """

    batch: Batch
    words: str
    sources: tuple[str, ...]
    needs_flush: bool
    needs_look: bool = False


@dataclass(frozen=True, slots=True)
class LastIn:
    """What the engine is told is in a tank, and the gallons of it; None: empty and rinsed."""

    held: engine.TankBatch | engine.UnknownContents | None
    heel_gal: float


def next_change(batch: Batch) -> Change | None:
    """What charging this batch next asks for; None when its tank is empty and rinsed."""
    last = last_in(batch.tank, heel_of(batch.tank))
    if last.held is None:
        return None
    step = engine.carry_over(last.held, as_tank_batch(batch), saved_rules(), heel_gal=last.heel_gal)
    return change_into(batch, step)


def not_free(tank: Tank, batch: Batch) -> str:
    """Why the batch cannot be charged into the tank, in a sentence; empty when it can."""
    entry = newest_entry(tank)
    found = heel_after(tank, entry)
    if isinstance(found, UnknownTank):
        return (
            f"{found.words} Look into it and sign what is in it, or rinse it, before"
            f" {batch.number} is charged."
        )
    return "" if entry is None else taken_by_another(entry, batch)


def taken_by_another(entry: TankEntry, batch: Batch) -> str:
    """That the tank holds another batch by its newest entry, in a sentence; else empty."""
    if entry.batch is None or not entry.held.is_occupied or entry.batch_id == batch.pk:
        return ""
    return (
        f"{entry.tank.name} holds {entry.batch.number} ({entry.batch.get_status_display()}):"
        f" fill or drain it before {batch.number} is charged."
    )


def last_in(tank: Tank, found: TankHeel) -> LastIn:
    """What is in the tank as the engine sees it.

    A tank that drained dry and was not rinsed is judged with its usual heel: its walls are wet.
    """
    if isinstance(found, EmptyTank):
        return LastIn(None, 0.0)
    usual_gal = usual_heel_gal(tank)
    if isinstance(found, UnknownTank):
        return LastIn(engine.UnknownContents(), usual_gal)
    heel_gal = found.heel.volume_gal or usual_gal
    if not found.knows_stocks:
        return LastIn(engine.UnknownContents(found.product), heel_gal)
    total_pct = sum(stock.pct for stock in found.stocks)
    held = engine.TankBatch(
        code=f"in {tank.name}",
        name=found.product,
        stocks=tuple(engine_stock(stock) for stock in found.stocks),
        pct=tuple(100 * stock.pct / total_pct for stock in found.stocks),
        volume_gal=heel_gal,
    )
    return LastIn(held, heel_gal)


def as_tank_batch(batch: Batch) -> engine.TankBatch:
    """The batch as the engine's tank sees it, from its frozen plan."""
    plan = batch.load_plan
    # By the weights: the plan's percentages are rounded and need not add up to 100.
    total_lb = sum(step.weight_lb for step in plan.steps)
    return engine.TankBatch(
        code=batch.number,
        name=f"{plan.product_name} ({batch.number})",
        stocks=tuple(engine_stock(step) for step in plan.steps),
        pct=tuple(100 * step.weight_lb / total_lb for step in plan.steps),
        volume_gal=plan.volume_gal,
    )


def engine_stock(frozen: FrozenStock) -> Stock:
    """A frozen stock as the engine sees it in a tank; it is there already and costs nothing."""
    return Stock(
        code=frozen.code,
        name=frozen.name,
        density_lb_per_gal=frozen.density_lb_per_gal,
        cost_per_lb=0.0,
        analysis=frozen.analysis,
        traits=frozenset(frozen.traits),
        solutes=frozen.solutes,
    )


def change_into(batch: Batch, step: engine.CarryOver | None) -> Change:
    """The engine's verdict about going over to a batch, for a page."""
    if step is None:
        return Change(batch, "The tank is empty and rinsed.", (), needs_flush=False)
    sources = tuple(dict.fromkeys(meeting.source for meeting in step.meetings if meeting.source))
    return Change(batch, step.words, sources, step.needs_flush, step.needs_look)
