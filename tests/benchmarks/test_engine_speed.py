"""How long the engine takes beside what it is made of. Nothing here is a pass or a fail.

    pytest tests/benchmarks --benchmark-enable --benchmark-only -s

Every test times its baseline in the same run and prints the ratio, because a ratio holds on any
machine and a time does not.
"""

import statistics
import time
from contextlib import suppress
from dataclasses import replace

import highspy
import numpy as np
import pulp
import pytest
from scipy.optimize import linprog

from formulas.engine import (
    Fill,
    OutOfReach,
    Solved,
    cost_ranges,
    recipe_costs_per_lb,
    scale_ready,
    slow_release_curve,
    solve,
)
from formulas.engine.blend.highs import QuietHighs
from formulas.engine.blend.linear_program import linear_model
from formulas.engine.plant.not_weighable import NotWeighable
from tests.benchmarks.engine_problems import question
from tests.benchmarks.figures import cpu_ms, cpu_ms_beside, cpu_s, ms, ratio

CBC = pulp.COIN_CMD(path=pulp.PULP_CBC_CMD.pulp_cbc_path, msg=False, threads=1)
ROUNDS = {"rounds": 200, "warmup_rounds": 10}


def bare_highs(arrays):
    """The plainest correct call: build one HighsLp, four options, pass, run, read."""
    rows, columns = arrays.A.shape
    row_index, column_index = np.nonzero(arrays.A)

    def run():
        lp = highspy.HighsLp()
        lp.num_col_, lp.num_row_ = columns, rows
        lp.col_cost_ = arrays.cost
        lp.col_lower_, lp.col_upper_ = arrays.limits.col_lower, arrays.limits.col_upper
        lp.row_lower_, lp.row_upper_ = arrays.limits.row_lower, arrays.limits.row_upper
        lp.a_matrix_.format_ = highspy.MatrixFormat.kRowwise
        lp.a_matrix_.start_ = np.r_[0, np.cumsum(np.bincount(row_index, minlength=rows))]
        lp.a_matrix_.index_ = column_index
        lp.a_matrix_.value_ = arrays.A[row_index, column_index]
        solver = QuietHighs()
        for name, value in {
            "threads": 1,
            "random_seed": 0,
            "simplex_iteration_limit": 1_000_000,
            "presolve": "off",
        }.items():
            solver.setOptionValue(name, value)
        solver.passModel(lp)
        solver.run()
        return list(solver.getSolution().col_value)

    return run


def one_sided(arrays):
    """The arrays as scipy takes them: equalities apart, only upper limits."""
    limits = arrays.limits
    same = limits.row_lower == limits.row_upper
    below, above = np.isfinite(limits.row_upper) & ~same, np.isfinite(limits.row_lower) & ~same
    return {
        "c": arrays.cost,
        "A_ub": np.vstack([arrays.A[below], -arrays.A[above]]),
        "b_ub": np.concatenate([limits.row_upper[below], -limits.row_lower[above]]),
        "A_eq": arrays.A[same],
        "b_eq": limits.row_upper[same],
        "bounds": np.column_stack([limits.col_lower, limits.col_upper]),
    }


def with_cbc(arrays):
    """The same arrays built in PuLP and solved by CBC in its own process."""

    def run():
        model = pulp.LpProblem("blend", pulp.LpMinimize)
        share = [
            model.add_variable(f"x{i}", low, high)
            for i, (low, high) in enumerate(
                zip(arrays.limits.col_lower, arrays.limits.col_upper, strict=True)
            )
        ]
        model += pulp.lpDot(arrays.cost, share)
        for row, low, high in zip(
            arrays.A, arrays.limits.row_lower, arrays.limits.row_upper, strict=True
        ):
            total = pulp.lpDot(row, share)
            if np.isfinite(low):
                model += total >= low
            if np.isfinite(high):
                model += total <= high
        model.solve(CBC)
        return pulp.value(model.objective)

    return run


def arrays_of(problem):
    model = linear_model(problem)
    return model.program(model.limits())


@pytest.mark.parametrize("stock_count", [12, 40, 160])
def test_a_whole_solve_against_the_bare_solver_call(benchmark, stock_count):
    problem = question(stock_count)
    arrays = arrays_of(problem)
    assert len(arrays.cost) == stock_count
    assert isinstance(solve(problem), Solved)
    benchmark.pedantic(lambda: solve(problem), **ROUNDS)
    whole, bare = cpu_ms_beside(lambda: solve(problem), bare_highs(arrays))
    ratio(f"solve_to_bare_highs_{stock_count}_stocks", whole / bare)

    def of_a_new_catalogue():
        return solve(replace(problem, stocks=problem.stocks[::-1]))

    whole, bare = cpu_ms_beside(of_a_new_catalogue, bare_highs(arrays))
    ratio(f"solve_of_a_new_catalogue_to_bare_highs_{stock_count}_stocks", whole / bare)


def test_a_whole_solve_against_other_roads(benchmark):
    problem = question(12)
    arrays = arrays_of(problem)
    expected = solve(problem).blend.cost_per_lb
    by_cbc, by_scipy = with_cbc(arrays), one_sided(arrays)
    assert by_cbc() == pytest.approx(expected, rel=1e-6)
    assert linprog(**by_scipy).fun == pytest.approx(expected, rel=1e-6)
    benchmark.pedantic(lambda: solve(problem), **ROUNDS)
    # CBC runs in a process of its own, whose time only the clock sees.
    start = time.perf_counter()
    for _ in range(20):
        by_cbc()
    cbc_ms = 50 * (time.perf_counter() - start)
    whole, by_linprog = cpu_ms_beside(lambda: solve(problem), lambda: linprog(**by_scipy), 50)
    ratio("cbc_to_solve_12_stocks", cbc_ms / whole)
    ratio("linprog_to_solve_12_stocks", by_linprog / whole)


@pytest.mark.parametrize("stock_count", [12, 24])
def test_a_choice_of_stocks(benchmark, stock_count):
    plain = question(stock_count)
    used = solve(plain).blend.shares
    # Just above the smallest share of the plain recipe, so that a choice has to be made.
    charge = 1.05 * min(share.pct for share in used)
    problem = replace(plain, smallest_charge_pct=charge, most_stocks=len(used))
    benchmark.pedantic(lambda: solve(problem, explain=False), rounds=5, warmup_rounds=1)
    mixed, whole = cpu_ms_beside(lambda: solve(problem, explain=False), lambda: solve(plain), 20)
    ratio(f"choice_of_stocks_to_solve_{stock_count}_stocks", mixed / whole)


@pytest.mark.parametrize("stock_count", [12, 40])
def test_explaining_what_is_out_of_reach(benchmark, stock_count):
    plain = question(stock_count)
    first, *rest = plain.wishes
    problem = replace(plain, wishes=(replace(first, min_pct=30.0), *rest))
    assert isinstance(solve(problem), OutOfReach)
    benchmark.pedantic(lambda: solve(problem), rounds=10, warmup_rounds=2)
    explained, whole = cpu_ms_beside(lambda: solve(problem), lambda: solve(plain), 30)
    ratio(f"explanation_to_solve_{stock_count}_stocks", explained / whole)


@pytest.mark.parametrize("stock_count", [6, 10, 12])
def test_explaining_why_one_stock_fewer_will_not_do(benchmark, stock_count):
    plain = question(stock_count)
    problem = with_one_stock_fewer_than_needed(plain)
    benchmark.pedantic(lambda: solve(problem), rounds=1)
    explained, whole = cpu_ms_beside(lambda: solve(problem), lambda: solve(plain), 30)
    ratio(f"explanation_with_choices_to_solve_{stock_count}_stocks", explained / whole)


def with_one_stock_fewer_than_needed(problem):
    """The problem asked with the largest number of stocks that is not enough."""
    for most in range(len(solve(problem).blend.shares), 0, -1):
        limited = replace(problem, most_stocks=most)
        if isinstance(solve(limited, explain=False), OutOfReach):
            return limited
    raise AssertionError("One stock alone does it.")


@pytest.mark.parametrize("stock_count", [12, 40])
def test_the_curve_and_the_price_ranges(benchmark, stock_count):
    problem = question(stock_count)
    benchmark.pedantic(lambda: slow_release_curve(problem), rounds=10, warmup_rounds=2)
    curve, whole = cpu_ms_beside(lambda: slow_release_curve(problem), lambda: solve(problem), 30)
    ratio(f"curve_of_21_points_to_solve_{stock_count}_stocks", curve / whole)
    ranges, whole = cpu_ms_beside(lambda: cost_ranges(problem), lambda: solve(problem), 30)
    ratio(f"price_ranges_to_solve_{stock_count}_stocks", ranges / whole)


@pytest.mark.parametrize("stock_count", [6, 12])
def test_scale_ready_weights(benchmark, stock_count):
    def weighed(seed):
        problem = replace(question(stock_count, seed), fill=Fill(volume_gal=265.0))
        blend = solve(problem).blend

        def weigh():
            with suppress(NotWeighable):
                scale_ready(problem.stocks, blend, problem.fill, guarantees=problem)

        return weigh

    benchmark.pedantic(weighed(0), rounds=5, warmup_rounds=1)
    times = [1000 * cpu_s(weighed(seed)) for seed in range(200)]
    ms(f"scale_weights_median_{stock_count}_stocks", statistics.median(times))
    ms(f"scale_weights_worst_of_200_{stock_count}_stocks", max(times))


@pytest.mark.parametrize("recipe_count", [1_000, 10_000])
def test_repricing_many_recipes(benchmark, recipe_count):
    rng = np.random.default_rng(0)
    shares, costs = 100 * rng.dirichlet(np.ones(40), recipe_count), rng.uniform(0.05, 1.0, 40)
    benchmark.pedantic(lambda: recipe_costs_per_lb(shares, costs), **ROUNDS)

    def loop():
        return [
            sum(share * cost for share, cost in zip(row, costs, strict=True)) / 100
            for row in shares[:100]
        ]

    matrix, looped = cpu_ms(lambda: recipe_costs_per_lb(shares, costs), 50), cpu_ms(loop, 5)
    ratio(
        f"repricing_by_a_loop_to_a_matrix_{recipe_count}_recipes",
        recipe_count / 100 * looped / matrix,
    )
