"""A correction that takes more work than it may says what was found by then, or that it is open."""

import pytest

from formulas.engine import solve
from formulas.engine.plant.correction import Corrected, InTank, OnHand, Promise, correct
from formulas.engine.work.effort import TooLarge, allowed
from tests.benchmarks.engine_problems import question


def corrected(units):
    """Twelve stocks on hand against one weight that is 15 % off."""
    problem = question(12, 1)
    stock_of = {stock.code: stock for stock in problem.stocks}
    first, *others = solve(problem).blend.shares
    tank = [InTank(stock_of[first.code], round(23.0 * first.pct))]
    tank += [InTank(stock_of[share.code], round(20.0 * share.pct)) for share in others]
    shelf = [OnHand(stock, 800.0) for stock in problem.stocks]
    promise = Promise(problem.wishes, problem.slow_release, most_gal=400.0)
    with allowed(units):
        return correct(tank, shelf, promise)


def test_a_search_that_is_ended_gives_the_best_found_and_says_so():
    proven, ended = corrected(1e9), corrected(300)
    assert isinstance(ended, Corrected)
    assert proven.gap == 0.0
    assert "not_proven_smallest" not in {finding.code for finding in proven.findings}
    assert ended.added_cost > proven.added_cost
    assert ended.gap >= 1.0 - proven.added_cost / ended.added_cost - 1e-6
    assert "not_proven_smallest" in {finding.code for finding in ended.findings}
    assert corrected(300) == ended


def test_a_search_that_has_found_nothing_is_too_large_and_proves_nothing():
    with pytest.raises(TooLarge):
        corrected(50)
