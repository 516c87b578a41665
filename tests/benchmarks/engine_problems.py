"""Random questions of a given size with a known feasible recipe; the same on every machine."""

import numpy as np

from formulas.engine import BlendProblem, NutrientWish, SlowReleaseWish, Stock
from formulas.engine.composition import content_pct, slow_n_pct

KEYS = ("N.urea", "N.nitrate", "N.slow", "P2O5", "K2O", "S", "Fe", "Zn", "humic_acid")
#: With the slow-release share these make eight wishes.
WISHED = ("N", "P2O5", "K2O", "S", "Fe", "Zn", "humic_acid")


def question(stock_count, seed=0):
    """``stock_count`` stocks, eight wishes, some with both sides."""
    rng = np.random.default_rng(seed)
    stocks = tuple(
        Stock(
            f"S{number:03d}",
            f"Stock {number}",
            float(rng.uniform(8.4, 13.0)),
            float(rng.uniform(0.05, 1.0)),
            {str(key): float(rng.uniform(0.5, 20.0)) for key in rng.choice(KEYS, 3, replace=False)},
        )
        for number in range(stock_count)
    )
    recipe = rng.dirichlet(np.ones(stock_count))

    def content(of):
        return sum(share * of(stock.analysis) for share, stock in zip(recipe, stocks, strict=True))

    wishes = []
    for position, key in enumerate(WISHED):
        amount = content(lambda analysis, key=key: content_pct(analysis, key))
        high = 1.1 * amount if position % 2 else None
        wishes.append(NutrientWish(key, 0.95 * amount, high))
    share = 90.0 * content(slow_n_pct) / content(lambda a: content_pct(a, "N"))
    return BlendProblem(stocks, tuple(wishes), SlowReleaseWish(share))
