"""Orders and stocks to share, for the tests of the allocation."""

import numpy as np

from formulas.engine import (
    NutrientWish,
)
from formulas.engine.allocation.allocating import OpenOrder
from formulas.engine.composition import content_pct
from tests.engine.lawn_stocks import (
    KACE,
    KTHIO25,
    UAN32,
    UREA,
    WATER,
)

STOCKS = (UAN32, UREA, KACE, KTHIO25, WATER)


def order(code, mass_lb, recipe, press=20.0, **rest):
    return OpenOrder(code, mass_lb, recipe, press, **rest)


GOOD = order("A", 100.0, {"UAN32": 100.0})


def by_code(plan):
    return {each.code: each for each in plan.orders}


def plenty(stocks=STOCKS, lb=1e6):
    return {stock.code: lb for stock in stocks}


def plant(rng, count, *, partial, may_change=True):
    asked = []
    for number in range(count):
        shares = rng.dirichlet(np.ones(len(STOCKS)))
        recipe = {stock.code: 100 * float(s) for stock, s in zip(STOCKS, shares, strict=True)}
        n = sum(
            s * content_pct(stock.analysis, "N") for stock, s in zip(STOCKS, shares, strict=True)
        )
        asked.append(
            order(
                f"O{number}",
                float(rng.integers(5, 40)) * 100,
                recipe,
                press=float(rng.integers(8, 40)),
                wishes=(NutrientWish("N", 0.95 * float(n)),),
                may_change=may_change and bool(rng.random() < 0.6),
                may_be_partial=partial,
            )
        )
    mass = sum(each.mass_lb for each in asked)
    return asked, {stock.code: float(mass * rng.uniform(0.05, 0.3)) for stock in STOCKS}
