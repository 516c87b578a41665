"""Why a tank cannot be corrected: the nearest thing that would have to give."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass

import numpy as np

from formulas.engine.blend.programs import Floats
from formulas.engine.plant.correction_program import Guard, least_steps
from formulas.engine.plant.correction_tank import Tank
from formulas.engine.problem import CompatibilityRule, Stock
from formulas.engine.wishes import WishId


@dataclass(frozen=True, slots=True)
class NoRoom:
    """The tank holds ``most`` (in ``unit``: gal or lb); the correction needs more than is left."""

    most: float
    unit: str
    needed: float
    left: float


@dataclass(frozen=True, slots=True)
class TooLittle:
    """A stock of which more is needed than is on hand, pounds."""

    code: str
    name: str
    missing_lb: float
    on_hand_lb: float


@dataclass(frozen=True, slots=True)
class Reason:
    """What is in the way; only the first kind that applies is filled in (room and stock may both).

    ``coarsest`` is the stock with the coarsest scale step where the steps are too coarse.
    ``limits`` cannot be brought back: each of them alone where ``one_suffices``, else together.
    """

    broken_rules: tuple[CompatibilityRule, ...] = ()
    no_room: tuple[NoRoom, ...] = ()
    too_little: tuple[TooLittle, ...] = ()
    coarsest: Stock | None = None
    limits: tuple[WishId, ...] = ()
    one_suffices: bool = False


def reason_for(tank: Tank) -> Reason:
    """Why nothing that fits and is on hand keeps every promise; asked only when that is so.

    Looked for in the order in which a plant can do something about it: room in the tank, stock
    on hand, finer scale steps, and at last the promises themselves.
    """
    rows, guards = tank.rows, tank.guards
    if rows.already_broken:
        return Reason(broken_rules=rows.already_broken)
    if (steps := least_steps(rows, guards, tank.cost, keep_room=False)) is not None:
        return Reason(no_room=tuple(_no_room(tank, steps.count)))
    if (steps := least_steps(rows, guards, tank.cost, keep_on_hand=False)) is not None:
        return Reason(too_little=tuple(_too_little(tank, steps.count)))
    least = least_steps(rows, guards, tank.cost, keep_room=False, keep_on_hand=False)
    if least is not None:
        return Reason(
            no_room=tuple(_no_room(tank, least.count)),
            too_little=tuple(_too_little(tank, least.count)),
        )
    loose = least_steps(rows, guards, tank.cost, keep_room=False, keep_on_hand=False, whole=False)
    if loose is not None:
        return Reason(coarsest=max(rows.offered, key=lambda stock: stock.scale_step_lb))
    return _conflict(tank)


def _added_lb(tank: Tank, steps: Floats) -> Floats:
    return np.array([stock.scale_step_lb for stock in tank.rows.offered]) * steps


def _no_room(tank: Tank, steps: Floats) -> Iterator[NoRoom]:
    lb = np.concatenate([tank.rows.tank_lb, _added_lb(tank, steps)])
    t = len(tank.rows.tank)
    sizes = ((tank.promise.most_gal, "gal"), (tank.promise.most_lb, "lb"))
    asked = [(most, unit) for most, unit in sizes if most is not None]
    for (row, room), (most, unit) in zip(tank.rows.room, asked, strict=True):
        if float(row @ lb) > room * (1 + 1e-9):
            needed, filled = float(row[t:] @ lb[t:]), float(row[:t] @ lb[:t])
            yield NoRoom(most, unit, needed, left=max(0.0, room - filled))


def _too_little(tank: Tank, steps: Floats) -> Iterator[TooLittle]:
    on_hand = zip(tank.rows.offered, _added_lb(tank, steps), tank.rows.on_hand_lb, strict=True)
    for stock, lb, held in on_hand:
        if lb > held:
            yield TooLittle(stock.code, stock.name, float(lb - held), float(held))


def _conflict(tank: Tank) -> Reason:
    guards = tank.guards
    alone = tuple(
        guard.limit
        for guard in guards
        if _could_hold(tank, [other for other in guards if other is not guard])
    )
    if alone:
        return Reason(limits=alone, one_suffices=True)
    return Reason(limits=tuple(guard.limit for guard in guards or tank.rows.standing))


def _could_hold(tank: Tank, guards: Sequence[Guard]) -> bool:
    steps = least_steps(
        tank.rows, guards, tank.cost, keep_room=False, keep_on_hand=False, whole=False
    )
    return steps is not None
