"""Why a tank cannot be corrected, in one sentence: the nearest thing that would have to give."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from formulas.engine.blend.choices import rule_sentence
from formulas.engine.blend.highs import Floats
from formulas.engine.plant.correction_program import Guard, least_steps
from formulas.engine.plant.correction_tank import Tank

_STAYS = "What is in the tank cannot be taken out"


@dataclass(frozen=True, slots=True)
class Reason:
    """One sentence and the names of what is in the way."""

    sentence: str
    in_the_way: tuple[str, ...]


def reason_for(tank: Tank) -> Reason:
    """Why nothing that fits and is on hand keeps every promise; asked only when that is so.

    Looked for in the order in which a plant can do something about it: room in the tank, stock
    on hand, finer scale steps, and at last the promises themselves.
    """
    rows, guards = tank.rows, tank.guards
    if rows.already_broken:
        names = tuple(rule_sentence(rule) for rule in rows.already_broken)
        return Reason(
            f"The tank already breaks a rule: {'; '.join(names)}. No addition mends that: hold "
            "the batch.",
            names,
        )
    if (steps := least_steps(rows, guards, tank.cost, keep_room=False)) is not None:
        return _no_room(tank, steps)
    if (steps := least_steps(rows, guards, tank.cost, keep_on_hand=False)) is not None:
        return _short(tank, steps)
    least = least_steps(rows, guards, tank.cost, keep_room=False, keep_on_hand=False)
    if least is not None:
        room, short = _no_room(tank, least), _short(tank, least)
        return Reason(f"{room.sentence} {short.sentence}", (*room.in_the_way, *short.in_the_way))
    loose = least_steps(rows, guards, tank.cost, keep_room=False, keep_on_hand=False, whole=False)
    if loose is not None:
        coarsest = max(rows.offered, key=lambda stock: stock.scale_step_lb)
        name = f"the scale step {coarsest.scale_step_lb:g} lb of {coarsest.code}"
        return Reason(
            f"The scale steps are too coarse to hit every promise at once; the coarsest is "
            f"{coarsest.scale_step_lb:g} lb of {coarsest.name}.",
            (name,),
        )
    return _conflict(tank)


def _added_lb(tank: Tank, steps: Floats) -> Floats:
    return np.array([stock.scale_step_lb for stock in tank.rows.offered]) * steps


def _no_room(tank: Tank, steps: Floats) -> Reason:
    lb = np.concatenate([tank.rows.tank_lb, _added_lb(tank, steps)])
    t = len(tank.rows.tank)
    words, names = [], []
    sizes = ((tank.promise.most_gal, "gal"), (tank.promise.most_lb, "lb"))
    asked = [(most, unit) for most, unit in sizes if most is not None]
    for (row, most), (_, unit) in zip(tank.rows.room, asked, strict=True):
        filled = float(row[:t] @ lb[:t])
        if float(row @ lb) > most * (1 + 1e-9):
            needed = float(row[t:] @ lb[t:])
            words.append(
                f"the correction takes {needed:,.1f} {unit} and the tank has "
                f"{max(0.0, most - filled):,.1f} {unit} left"
            )
            names.append(f"the tank's {most:g} {unit}")
    return Reason(f"There is no room: {' and '.join(words)}. {_STAYS}.", tuple(names))


def _short(tank: Tank, steps: Floats) -> Reason:
    words, names = [], []
    on_hand = zip(tank.rows.offered, _added_lb(tank, steps), tank.rows.on_hand_lb, strict=True)
    for stock, lb, held in on_hand:
        if lb > held:
            words.append(f"{lb - held:,.6g} lb more of {stock.name} than the {held:,.6g} lb there")
            names.append(f"{stock.code} on hand")
    return Reason(f"Too little is on hand: it takes {' and '.join(words)}.", tuple(names))


def _conflict(tank: Tank) -> Reason:
    guards = tank.guards
    alone = tuple(
        guard.name
        for guard in guards
        if _could_hold(tank, [other for other in guards if other is not guard])
    )
    names = alone or tuple(guard.name for guard in guards)
    joined = " or ".join(alone) if alone else " together with ".join(names)
    if not names:
        names = tuple(guard.name for guard in tank.rows.standing)
        joined = " together with ".join(names)
    return Reason(f"{_STAYS}, and no addition brings back {joined} beside the rest.", names)


def _could_hold(tank: Tank, guards: Sequence[Guard]) -> bool:
    steps = least_steps(
        tank.rows, guards, tank.cost, keep_room=False, keep_on_hand=False, whole=False
    )
    return steps is not None
