"""Change no more orders than has to be: the program counts changed pounds, not changed orders."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Final

import numpy as np

from formulas.engine.allocation.choice import pounds, session_of
from formulas.engine.allocation.orders import OpenOrder, average_lb, own_lb_per_lb
from formulas.engine.allocation.program import allocation_program
from formulas.engine.blend.programs import Floats
from formulas.engine.problem import CompatibilityRule, Stock
from formulas.engine.result import EngineFailure
from formulas.engine.work.effort import TooLarge, TooLate

#: Above so many changed orders nobody looks whether fewer would do: it takes a program each.
_MOST_SPARED: Final = 12
_NOISE: Final = 1e-7


def spare(
    use: Floats,
    orders: Sequence[OpenOrder],
    stocks: Sequence[Stock],
    held: Floats,
    rules: Sequence[CompatibilityRule],
) -> tuple[Floats, bool]:
    """``use`` (pounds, orders by stocks) with as much made and no more orders changed.

    One changed order after the other goes back to its own recipe if the other changed ones can
    still all be made from what is left. What is made as it was stays as it was. And whether all
    of them were looked at: False where the work this may take ended it.
    """
    changed = [o for o in range(len(orders)) if _is_changed(orders[o], use[o], stocks)]
    if len(changed) > _MOST_SPARED:
        return use, True
    for one in changed.copy():
        others = [o for o in changed if o != one]
        own = use.copy()
        own[one] = orders[one].mass_lb * own_lb_per_lb(orders[one], stocks)
        own[others] = 0.0
        left = held - own.sum(axis=0)
        if (left < -1e-6 * average_lb(orders)).any():
            continue
        try:
            found = _all_made([orders[o] for o in others], stocks, np.maximum(left, 0.0), rules)
        except TooLate:
            raise
        except TooLarge:
            return use, False
        except EngineFailure:
            continue  # an answer that is not to be trusted spares nobody; the plan stands
        if found is None:
            continue
        own[others] = found
        use = own
        changed = [o for o in others if _is_changed(orders[o], use[o], stocks)]
    return use, True


def _is_changed(order: OpenOrder, lb: Floats, stocks: Sequence[Stock]) -> bool:
    """Made in full and not by its own recipe."""
    if order.may_be_partial or not lb.any():
        return False
    own = order.mass_lb * own_lb_per_lb(order, stocks)
    return bool(np.abs(lb - own).max() > _NOISE * order.mass_lb)


def _all_made(
    orders: Sequence[OpenOrder],
    stocks: Sequence[Stock],
    held: Floats,
    rules: Sequence[CompatibilityRule],
) -> Floats | None:
    """Pounds of each stock in each order, every one made in full; None where that cannot be."""
    if not orders:
        return np.zeros((0, len(stocks)))
    program = allocation_program(orders, stocks, held, rules)
    session = session_of(program)
    none = np.zeros(len(orders))
    session.set_column_limits(program.unmade, none, none)
    found = session.run()
    return None if found is None else pounds(found.x, program, orders)
