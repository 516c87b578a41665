"""Which orders that take all or nothing are made: exactly while they are few, near it when many.

Few: a search over yes/no columns. Many: the relaxed program, whose total no plan can beat (the
``bound``), rounded in rounds: what came out whole stays, of what came out in part the half that
loses least is put off. After some rounds all in part are put off at once, and whatever fits into
the stock that leaves is put in again, the most pressing first. Nothing here looks at a clock:
a plan that is asked for again has to be the same plan, or nobody could accept it.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import Final

import numpy as np
from numpy.typing import NDArray

from formulas.engine.allocation.orders import (
    OpenOrder,
    change_per_lb,
    filled_lb_per_lb,
    own_lb_per_lb,
)
from formulas.engine.allocation.program import AllocationProgram, allocation_program
from formulas.engine.blend.highs import Session
from formulas.engine.blend.programs import Floats, Mask, Optimum, Program
from formulas.engine.problem import CompatibilityRule, Stock
from formulas.engine.result import EngineFailure
from formulas.engine.work.effort import TooLarge, TooLate, allowed_of_it, left

#: Up to so many all-or-nothing orders the choice among them is searched exactly.
MOST_EXACT: Final = 30
#: After so many simplex steps in rounds, everything in part is put off at once: about a fifth
#: of a second with 300 orders of 300 recipes, most rounds there are with 30 recipes.
_PATIENT_STEPS: Final = 400
#: Parts of an order below this are the solver's noise.
_NOISE: Final = 1e-7
#: Part of the work that is left which the exact search may take; where it ends without a plan,
#: it is rounded as for many orders.
_EXACT_PART: Final = 0.5


@dataclass(frozen=True, slots=True)
class Choice:
    """``use`` is pounds of each stock in each order, shape (orders, stocks); see the plan.

    ``is_cut_short`` where the work it may take ended it.
    """

    use: Floats
    total: float
    bound: float
    is_exact: bool
    is_cut_short: bool = False


def choose(
    orders: Sequence[OpenOrder],
    stocks: Sequence[Stock],
    held: Floats,
    rules: Sequence[CompatibilityRule],
) -> Choice:
    """The orders that are made and from what, for a checked question."""
    program = allocation_program(orders, stocks, held, rules)
    relaxed = session_of(program)
    first = _solved(relaxed.run_from_inside())
    whole = np.array([not order.may_be_partial for order in orders])
    if not _in_part(first, program, whole).any():
        return _exactly(first, program, orders)
    searched = None
    if whole.sum() <= MOST_EXACT and (best := _exact(program, whole)) is not None:
        searched = _exactly(best, program, orders)
        if searched.is_exact:
            return searched
    use = _rounded(relaxed, first, program, whole, orders)
    is_full = fill_up(use, orders, stocks, held, rules)
    total = total_of(use, orders, stocks)
    rounded = Choice(
        use,
        total,
        bound=min(first.objective, total),
        is_exact=False,
        is_cut_short=not is_full,
    )
    if searched is None:
        return rounded
    better = min(searched, rounded, key=lambda choice: choice.total)
    bound = min(better.total, max(searched.bound, rounded.bound))
    return replace(better, bound=bound)


def _exactly(best: Optimum, program: AllocationProgram, orders: Sequence[OpenOrder]) -> Choice:
    use = pounds(best.x, program, orders)
    bound = best.objective - best.gap * abs(best.objective)
    return Choice(use, best.objective, bound=bound, is_exact=best.gap <= 0.0)


def total_of(use: Floats, orders: Sequence[OpenOrder], stocks: Sequence[Stock]) -> float:
    """The objective of the program for these pounds (orders by stocks)."""
    price = np.array([stock.cost_per_lb for stock in stocks])
    change, total = change_per_lb(stocks), float((use @ price).sum())
    for order, lb in zip(orders, use, strict=True):
        own, filled = own_lb_per_lb(order, stocks), filled_lb_per_lb(order, stocks)
        share = float(filled @ lb) / order.mass_lb
        # The own recipe's part in it is as large as its scarcest stock allows.
        kept = min(lb[own > 0] / own[own > 0], default=0.0) / order.mass_lb
        total += order.mass_lb * (
            order.penalty_per_lb * max(0.0, 1.0 - share) + change * max(0.0, share - kept)
        )
    return total


def session_of(program: AllocationProgram, integer: Mask | None = None) -> Session:
    """A solver that holds the program."""
    none = np.zeros(len(program.cost), dtype=bool)
    model = Program(
        program.cost, program.rows, program.limits, none if integer is None else integer
    )
    return Session(model)


def pounds(x: Floats, program: AllocationProgram, orders: Sequence[OpenOrder]) -> Floats:
    """Pounds of each stock in each order, shape (orders, stocks), noise cleared.

    Of a group, the smallest orders keep the own recipe as far as it goes, so that as few as can
    be are changed.
    """
    use = np.zeros((len(orders), len(program.groups[0].own)))
    for group in program.groups:
        made = 1.0 - x[program.unmade[group.orders]]
        made[made < _NOISE] = 0.0
        made[made > 1.0 - _NOISE] = 1.0
        lb = made * np.array([orders[o].mass_lb for o in group.orders])
        own_left = min(group.mass_lb * float(x[group.made]), float(lb.sum()))
        changed = np.zeros(len(group.own))
        changed[group.usable] = np.maximum(x[group.changed], 0.0)
        filled = float(group.filled @ changed)
        changed[changed < _NOISE * filled] = 0.0
        filled = float(group.filled @ changed)
        if filled <= _NOISE or lb.sum() - own_left <= _NOISE * group.mass_lb:
            own_left, filled = float(lb.sum()), 1.0
        for k in np.argsort(lb, kind="stable"):
            own = min(float(lb[k]), own_left)
            if own < _NOISE * lb[k]:
                own = 0.0
            elif own > lb[k] * (1.0 - _NOISE):
                own = float(lb[k])
            own_left = max(0.0, own_left - own)
            use[group.orders[k]] = own * group.own + (lb[k] - own) / filled * changed
    return use


def fill_up(
    use: Floats,
    orders: Sequence[OpenOrder],
    stocks: Sequence[Stock],
    held: Floats,
    rules: Sequence[CompatibilityRule],
) -> bool:
    """Put what is not made and fits into what is left in again, the most pressing first.

    ``use`` is changed; False where the work this may take ended before all orders were tried.
    """
    left = held - use.sum(axis=0)
    waiting = [o for o in range(len(orders)) if not use[o].any()]
    for o in sorted(waiting, key=lambda o: -orders[o].penalty_per_lb):
        order = orders[o]
        own = order.mass_lb * own_lb_per_lb(order, stocks)
        if (own <= left).all():
            use[o] = own
        elif order.may_change:
            program = allocation_program([order], stocks, np.maximum(left, 0.0), rules)
            session = session_of(program)
            _settle(session, program, np.zeros(1, dtype=np.intp), share=0.0)
            try:
                found = session.run()
            except TooLate:
                raise
            except TooLarge:
                return False
            if found is None:
                continue
            use[o] = pounds(found.x, program, [order])[0]
        left = left - use[o]
    return True


def _solved(found: Optimum | None) -> Optimum:
    if found is None:
        raise EngineFailure("The allocation has no answer, which cannot be.")
    return found


def _in_part(optimum: Optimum, program: AllocationProgram, whole: Mask) -> Mask:
    unmade = optimum.x[program.unmade]
    found: Mask = whole & (unmade > _NOISE) & (unmade < 1.0 - _NOISE)
    return found


def _exact(program: AllocationProgram, whole: Mask) -> Optimum | None:
    """All or nothing searched exactly, then the rest once more for clean amounts.

    Where the search ends for its work, the best by then with its gap, or None.
    """
    integer = np.zeros(len(program.cost), dtype=bool)
    integer[program.unmade[whole]] = True
    try:
        with allowed_of_it(_EXACT_PART * left()):
            chosen = session_of(program, integer).run_for_best()
    except TooLate:
        raise
    except TooLarge:
        return None
    if chosen is None:
        return None
    settled = session_of(program)
    columns = program.unmade[whole]
    value = np.round(chosen.x[columns])
    settled.set_column_limits(columns, value, value)
    return replace(_solved(settled.run()), gap=chosen.gap)


def _rounded(
    session: Session,
    optimum: Optimum,
    program: AllocationProgram,
    whole: Mask,
    orders: Sequence[OpenOrder],
) -> Floats:
    """Keep what is whole, put off the half in part that loses least; in the end all in part."""
    worth = np.array([order.penalty_per_lb * order.mass_lb for order in orders])
    steps = _PATIENT_STEPS
    while steps > 0 and (part := np.flatnonzero(_in_part(optimum, program, whole))).size:
        unmade = optimum.x[program.unmade]
        _settle(session, program, np.flatnonzero(whole & (unmade <= _NOISE)), share=0.0)
        losing = part[np.argsort(worth[part] * (1.0 - unmade[part]), kind="stable")]
        _settle(session, program, losing[: (len(losing) + 1) // 2], share=1.0)
        try:
            found = session.run_within(steps)
        except TooLate:
            raise
        except TooLarge:
            break
        if found is None:
            break
        optimum, steps = found, steps - session.steps
    use = pounds(optimum.x, program, orders)
    use[_in_part(optimum, program, whole)] = 0.0
    return use


def _settle(
    session: Session, program: AllocationProgram, which: NDArray[np.intp], *, share: float
) -> None:
    """The share of these orders that is not made."""
    value = np.full(len(which), share)
    session.set_column_limits(program.unmade[which], value, value)
