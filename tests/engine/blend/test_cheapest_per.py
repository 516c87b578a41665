"""The cheapest per gallon and per pound of nitrogen, against the ratio as another program."""

from dataclasses import replace

import numpy as np
import pytest
from scipy.optimize import linprog

from formulas.engine import OutOfReach, Solved, solve
from formulas.engine.blend.cheapest_per import cheapest_per
from formulas.engine.blend.linear_program import linear_model
from formulas.engine.composition import content_pct
from formulas.engine.problem import Per
from tests.benchmarks.engine_problems import question
from tests.engine.lawn_stocks import SUMMER


def lb_n(stock):
    return content_pct(stock.analysis, "N") / 100.0


def gal(stock):
    return 1.0 / stock.density_lb_per_gal


HELD = {Per.GAL: gal, Per.LB_N: lb_n}


def least_ratio(problem, held):
    """Charnes and Cooper: y = t x with t = 1 / (held x), one linear program, by scipy."""
    model = linear_model(problem)
    limits, n = model.limits(), len(model.stocks)
    rows, upper = [], []
    for a, low, high in zip(model.A, limits.row_lower, limits.row_upper, strict=True):
        for sign, side in ((-1.0, low), (1.0, high)):
            if np.isfinite(side):
                rows.append(np.append(sign * a, -sign * side))
                upper.append(0.0)
    for i in range(n):
        rows.append(np.append(np.eye(n)[i], -limits.col_upper[i]))
        rows.append(np.append(-np.eye(n)[i], limits.col_lower[i]))
        upper += [0.0, 0.0]
    per = np.array([held(stock) for stock in model.stocks])
    found = linprog(
        np.append(model.cost, 0.0),
        A_ub=np.array(rows), b_ub=upper,
        A_eq=[np.append(per, 0.0)], b_eq=[1.0],
    )  # fmt: skip
    return found.fun if found.status == 0 else None


def ratio_of(problem, blend, held):
    stock_of = {stock.code: stock for stock in problem.stocks}
    cost = sum(share.pct * stock_of[share.code].cost_per_lb for share in blend.shares)
    return cost / sum(share.pct * held(stock_of[share.code]) for share in blend.shares)


@pytest.mark.parametrize("per", HELD)
@pytest.mark.parametrize("seed", range(8))
def test_it_is_the_least_ratio_of_the_fractional_program(per, seed):
    plain = question(8, seed)
    loose = replace(plain, wishes=tuple(replace(w, max_pct=None) for w in plain.wishes[:3]))
    asked = replace(loose, cheapest_per=per)
    answer = solve(asked)
    assert isinstance(answer, Solved)
    least = ratio_of(asked, answer.blend, HELD[per])
    assert least == pytest.approx(least_ratio(loose, HELD[per]), rel=1e-7)
    assert least <= ratio_of(asked, solve(loose).blend, HELD[per]) + 1e-12


def test_per_gallon_is_another_recipe_than_per_pound():
    """A light dear stock fills the tote for less than a heavy cheap one; by hand.

    A: 20 % N, 8 lb/gal, $0.10/lb, $0.80/gal. B: 20 % N, 12 lb/gal, $0.09/lb, $1.08/gal.
    """
    stocks = question(2).stocks
    light = replace(stocks[0], code="A", density_lb_per_gal=8.0, cost_per_lb=0.10)
    heavy = replace(stocks[1], code="B", density_lb_per_gal=12.0, cost_per_lb=0.09)
    stocks = tuple(replace(each, analysis={"N.urea": 20.0}) for each in (light, heavy))
    asked = replace(question(2), stocks=stocks, wishes=(), slow_release=None)
    codes = {
        per: [share.code for share in solve(replace(asked, cheapest_per=per)).blend.shares]
        for per in Per
    }
    assert codes == {Per.LB: ["B"], Per.GAL: ["A"], Per.LB_N: ["B"]}


@pytest.mark.parametrize("per", HELD)
def test_choices_are_kept_and_none_of_them_does_better(per):
    """Every choice of the summer blend's stocks by itself is no cheaper."""
    asked = replace(SUMMER, most_stocks=3, cheapest_per=per)
    answer = solve(asked)
    assert isinstance(answer, Solved)
    costs = []
    codes = [share.code for share in answer.blend.shares]
    assert len([code for code in codes if code != "WATER"]) <= 3
    for out in codes:
        other = solve(replace(asked, exclude=frozenset({out})), explain=False)
        if isinstance(other, Solved):
            costs.append(_cost(other.blend, per))
    assert all(_cost(answer.blend, per) <= cost * (1 + 1e-9) for cost in costs)


def _cost(blend, per):
    if per is Per.GAL:
        return blend.cost_per_lb * blend.density_lb_per_gal
    return blend.cost_per_lb / blend.analysis["N"]


def test_without_any_nitrogen_it_is_the_cheapest_and_out_of_reach_is_explained():
    stocks = tuple(replace(stock, analysis={"K2O": 5.0}) for stock in question(3).stocks)
    asked = replace(question(3), stocks=stocks, wishes=(), slow_release=None, cheapest_per=Per.LB_N)
    cheapest = min(stock.cost_per_lb for stock in stocks)
    assert solve(asked).blend.cost_per_lb == pytest.approx(cheapest)
    beyond = replace(SUMMER, cheapest_per=Per.GAL, most_stocks=1)
    answer = solve(beyond)
    assert isinstance(answer, OutOfReach)
    assert cheapest_per(beyond) is None
    assert answer.conflict
