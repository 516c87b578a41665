"""The same questions to solvers that are not ours.

CBC through PuLP runs as its own process and shares no code with HiGHS: it checks the answer.
scipy's ``linprog`` has HiGHS inside: it checks our arrays and our reading of the result.
"""

import numpy as np
import pulp
import pytest
from scipy.optimize import linprog

from formulas.engine import (
    BlendProblem,
    NutrientWish,
    SlowReleaseWish,
    Solved,
    Stock,
    StockLimit,
    solve,
)
from formulas.engine.composition import content_pct, slow_n_pct

KEYS = ("N.urea", "N.nitrate", "N.slow", "P2O5", "K2O", "S", "Fe", "Zn", "humic_acid")
#: The CBC program that comes with PuLP, started as a process of its own.
CBC = pulp.COIN_CMD(path=pulp.PULP_CBC_CMD.pulp_cbc_path, msg=False, gapRel=0.0, threads=1)


def random_problem(seed):
    """12 stocks, about 8 wishes with both sides, built around a known recipe so most solve."""
    rng = np.random.default_rng(seed)
    stocks = tuple(
        Stock(
            f"S{number:02d}",
            f"Stock {number}",
            float(rng.uniform(8.4, 13.0)),
            float(rng.uniform(0.05, 1.0)),
            {str(key): float(rng.uniform(0.5, 20.0)) for key in rng.choice(KEYS, 3, replace=False)},
            max_pct=float(rng.choice([100.0, 60.0])),
        )
        for number in range(12)
    )
    recipe = rng.dirichlet(np.ones(12))
    wishes = []
    for key in ("N", "P2O5", "K2O", "S", "Fe", "Zn", "humic_acid"):
        content = sum(
            share * content_pct(stock.analysis, key)
            for share, stock in zip(recipe, stocks, strict=True)
        )
        wishes.append(NutrientWish(key, 0.93 * content, 1.2 * content))
    # Every tenth asks for too much, so that "out of reach" is compared as well.
    if seed % 10 == 9:
        wishes[0] = NutrientWish("N", 45.0)
    return BlendProblem(
        stocks,
        tuple(wishes),
        SlowReleaseWish(float(rng.uniform(0.0, 25.0))),
        (StockLimit("S03", 0.5, 30.0),),
        most_stocks=9 if seed % 3 == 0 else None,
    )


def cost_by_cbc(problem):
    """Least cost by CBC, written from the question alone; None if infeasible."""
    model = pulp.LpProblem("blend", pulp.LpMinimize)
    share = {
        stock.code: model.add_variable(stock.code, stock.min_pct / 100, stock.max_pct / 100)
        for stock in problem.stocks
    }
    model += pulp.lpSum(stock.cost_per_lb * share[stock.code] for stock in problem.stocks)
    model += pulp.lpSum(share.values()) == 1
    for wish in problem.wishes:
        content = pulp.lpSum(
            content_pct(stock.analysis, wish.nutrient) * share[stock.code]
            for stock in problem.stocks
        )
        if wish.min_pct is not None:
            model += content >= wish.min_pct
        if wish.max_pct is not None:
            model += content <= wish.max_pct
    least = problem.slow_release.min_pct / 100
    model += (
        pulp.lpSum(
            (slow_n_pct(stock.analysis) - least * content_pct(stock.analysis, "N"))
            * share[stock.code]
            for stock in problem.stocks
        )
        >= 0
    )
    for limit in problem.stock_limits:
        model += share[limit.code] >= limit.min_pct / 100
        model += share[limit.code] <= limit.max_pct / 100
    if problem.most_stocks is not None:
        used = {code: model.add_variable(f"use_{code}", cat="Binary") for code in share}
        for code, variable in share.items():
            model += variable <= used[code]
        model += pulp.lpSum(used.values()) <= problem.most_stocks
    status = model.solve(CBC)
    return pulp.value(model.objective) if pulp.LpStatus[status] == "Optimal" else None


@pytest.mark.parametrize("seed", range(40))
def test_cbc_finds_the_same_least_cost(seed):
    problem = random_problem(seed)
    answer = solve(problem, explain=False)
    expected = cost_by_cbc(problem)
    if isinstance(answer, Solved):
        assert answer.blend.cost_per_lb == pytest.approx(expected, rel=1e-6)
    else:
        assert expected is None


def test_the_random_questions_are_of_both_kinds():
    solved = [isinstance(solve(random_problem(seed), explain=False), Solved) for seed in range(40)]
    assert 20 <= sum(solved) < 40


@pytest.mark.parametrize("seed", range(40, 70))
def test_scipy_finds_the_same_least_cost(seed):
    problem = random_problem(seed)
    problem = BlendProblem(
        problem.stocks, problem.wishes, problem.slow_release, problem.stock_limits
    )
    rows, limits = [], []
    for wish in problem.wishes:
        row = [content_pct(stock.analysis, wish.nutrient) for stock in problem.stocks]
        if wish.min_pct is not None:
            rows.append([-value for value in row])
            limits.append(-wish.min_pct)
        if wish.max_pct is not None:
            rows.append(row)
            limits.append(wish.max_pct)
    least = problem.slow_release.min_pct / 100
    rows.append(
        [
            least * content_pct(stock.analysis, "N") - slow_n_pct(stock.analysis)
            for stock in problem.stocks
        ]
    )
    limits.append(0.0)
    bounds = [
        (0.005, 0.30) if stock.code == "S03" else (stock.min_pct / 100, stock.max_pct / 100)
        for stock in problem.stocks
    ]
    expected = linprog(
        [stock.cost_per_lb for stock in problem.stocks],
        A_ub=rows,
        b_ub=limits,
        A_eq=[[1.0] * len(problem.stocks)],
        b_eq=[1.0],
        bounds=bounds,
    )
    answer = solve(problem, explain=False)
    if isinstance(answer, Solved):
        assert answer.blend.cost_per_lb == pytest.approx(expected.fun, rel=1e-6)
    else:
        assert expected.status == 2
