"""What a wish costs, and how far a price may move before the recipe changes."""

from __future__ import annotations

from dataclasses import dataclass

from formulas.engine.blend.linear_program import Wish
from formulas.engine.blend.optimise import Answer, optimise
from formulas.engine.blend.programs import Limits
from formulas.engine.density.mixing import volume_gal
from formulas.engine.problem import BlendProblem
from formulas.engine.result import Sensitivity
from formulas.engine.validate import validate
from formulas.engine.wishes import SOFT_KINDS, WishKind


@dataclass(frozen=True, slots=True)
class CostRange:
    """Prices of one stock, dollars per lb, between which the recipe stays as it is."""

    code: str
    cost_per_lb: float
    lowest_cost_per_lb: float
    highest_cost_per_lb: float


def sensitivities(answer: Answer) -> tuple[Sensitivity, ...]:
    """Dollars per lb of blend for raising each wish's number by one (one percentage point).

    A wish that does not bind costs 0; relaxing an upper limit saves, so its figure is negative.
    With choices (rules, number of stocks) it holds while the chosen stocks stay the same; at a
    corner where several wishes bind at once it is one of several right figures. For
    "strongest" it is the cost at that strength.
    """
    model, optimum = answer.model, answer.optimum
    row_dual, col_dual = optimum.row_dual.tolist(), optimum.col_dual.tolist()
    found = []
    for wish in model.wishes:
        kind = wish.id.kind
        if kind not in SOFT_KINDS or kind is WishKind.MOST_STOCKS:
            continue
        (place,) = wish.places
        dual = (row_dual if place.is_row else col_dual)[place.index]
        price = 0.0
        if dual and (dual > 0) is wish.id.at_least and _owns_limit(answer.limits, wish):
            price = dual
        if kind is WishKind.SLOW_RELEASE:
            # d(row)/d(share) = -N x, so one point more of the share asks for N/100 more.
            price *= float(answer.pct @ model.n_n) / 100.0 / 100.0
        elif kind is WishKind.STOCK_LIMIT:
            price /= 100.0
        elif kind is WishKind.COST_PER_GAL and price:
            # d(row)/d(ceiling) = -gallons per lb of blend.
            price *= volume_gal(model.stocks, answer.pct.tolist()) / 100.0
        found.append(Sensitivity(wish.id, price))
    return tuple(found)


def _owns_limit(limits: Limits, wish: Wish) -> bool:
    """A looser wish on the same row or column does not own the price."""
    (place,) = wish.places
    if place.is_row:
        values = limits.row_lower if wish.at_least else limits.row_upper
    else:
        values = limits.col_lower if wish.at_least else limits.col_upper
    return place.value == float(values[place.index])


def cost_ranges(problem: BlendProblem) -> tuple[CostRange, ...]:
    """For each stock (in stock order) the prices that leave the recipe unchanged.

    Above the highest price a stock in use is used less; below the lowest a stock left out comes
    in. Infinite where no price matters. Choices are held as they are. Empty when the wish is
    out of reach; raises ``BadProblem``. At a degenerate corner the range may be narrower than
    the true one.
    """
    validate(problem)
    answer = optimise(problem)
    if answer is None:
        return ()
    answer.session.set_limits(answer.limits)
    answer.session.set_cost(answer.model.cost)
    answer.session.run()
    low, high = answer.session.cost_ranging()
    ranges = {
        stock.code: CostRange(stock.code, stock.cost_per_lb, float(low[i]), float(high[i]))
        for i, stock in enumerate(answer.model.stocks)
    }
    return tuple(ranges[stock.code] for stock in problem.stocks)
