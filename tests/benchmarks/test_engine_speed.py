"""How long the engine takes beside what it is made of. Nothing here is a pass or a fail.

    pytest tests/benchmarks --benchmark-enable --benchmark-only -s

Every test times its baseline in the same run and prints the ratio, because a ratio holds on any
machine and a time does not.
"""

import statistics
import time
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
from tests.benchmarks.engine_problems import question

CBC = pulp.COIN_CMD(path=pulp.PULP_CBC_CMD.pulp_cbc_path, msg=False, threads=1)
ROUNDS = {"rounds": 200, "warmup_rounds": 10}


def median_ms(action, rounds=200):
    action()
    times = []
    for _ in range(rounds):
        start = time.perf_counter()
        action()
        times.append(time.perf_counter() - start)
    return 1000 * statistics.median(times)


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


def report(text):
    print(f"\n{text}")  # noqa: T201 - the point of a benchmark


def test_a_whole_solve_against_the_bare_solver_call(benchmark):
    problem = question(12)
    arrays = arrays_of(problem)
    assert len(arrays.cost) == 12
    assert isinstance(solve(problem), Solved)
    benchmark.pedantic(lambda: solve(problem), **ROUNDS)
    whole, bare = median_ms(lambda: solve(problem)), median_ms(bare_highs(arrays))
    report(
        f"12 stocks x 8 wishes: solve() {whole:.2f} ms, bare HiGHS {bare:.2f} ms, "
        f"ratio {whole / bare:.2f} (aim: at most 3)"
    )


def test_a_whole_solve_against_other_roads(benchmark):
    problem = question(12)
    arrays = arrays_of(problem)
    expected = solve(problem).blend.cost_per_lb
    by_cbc, by_scipy = with_cbc(arrays), one_sided(arrays)
    assert by_cbc() == pytest.approx(expected, rel=1e-6)
    assert linprog(**by_scipy).fun == pytest.approx(expected, rel=1e-6)
    benchmark.pedantic(lambda: solve(problem), **ROUNDS)
    whole = median_ms(lambda: solve(problem))
    cbc, scipy_ms = median_ms(by_cbc, 20), median_ms(lambda: linprog(**by_scipy), 50)
    report(
        f"same problem: PuLP + CBC {cbc:.1f} ms = {cbc / whole:.1f} x solve(), "
        f"scipy linprog {scipy_ms:.2f} ms = {scipy_ms / whole:.1f} x solve()"
    )


@pytest.mark.parametrize("stock_count", [10, 40, 160])
def test_growth_with_the_number_of_stocks(benchmark, stock_count):
    problem = question(stock_count)
    assert isinstance(solve(problem), Solved)
    benchmark.pedantic(lambda: solve(problem), **(ROUNDS | {"rounds": 50}))
    whole = median_ms(lambda: solve(problem), 50)
    bare = median_ms(bare_highs(arrays_of(problem)), 50)
    first = median_ms(lambda: solve(question_of_ten), 50)
    report(
        f"{stock_count} stocks: solve() {whole:.2f} ms = {whole / first:.1f} x ten stocks, "
        f"ratio to bare HiGHS {whole / bare:.2f}"
    )


question_of_ten = question(10)


def test_a_choice_of_stocks(benchmark):
    plain = question(12)
    used = solve(plain).blend.shares
    # Just above the smallest share of the plain recipe, so that a choice has to be made.
    charge = 1.05 * min(share.pct for share in used)
    problem = replace(plain, smallest_charge_pct=charge, most_stocks=len(used))
    benchmark.pedantic(lambda: solve(problem, explain=False), rounds=20, warmup_rounds=2)
    mixed = median_ms(lambda: solve(problem, explain=False), 20)
    whole = median_ms(lambda: solve(plain))
    report(
        f"at most {len(used)} stocks, {charge:.1f} % or not at all: {mixed:.1f} ms = "
        f"{mixed / whole:.1f} x plain"
    )


def test_explaining_what_is_out_of_reach(benchmark):
    plain = question(12)
    first, *rest = plain.wishes
    problem = replace(plain, wishes=(replace(first, min_pct=30.0), *rest))
    assert isinstance(solve(problem), OutOfReach)
    benchmark.pedantic(lambda: solve(problem), rounds=50, warmup_rounds=2)
    explained, whole = median_ms(lambda: solve(problem), 50), median_ms(lambda: solve(plain))
    report(f"out of reach, explained: {explained:.1f} ms = {explained / whole:.1f} x a solve()")


def test_the_curve_and_the_price_ranges(benchmark):
    problem = question(12)
    benchmark.pedantic(lambda: slow_release_curve(problem), rounds=50, warmup_rounds=2)
    curve, whole = (
        median_ms(lambda: slow_release_curve(problem), 50),
        median_ms(lambda: solve(problem)),
    )
    ranges = median_ms(lambda: cost_ranges(problem), 50)
    report(
        f"curve of 21 points {curve:.1f} ms = {curve / whole:.1f} x a solve(); "
        f"price ranges {ranges / whole:.1f} x"
    )


def test_scale_ready_weights(benchmark):
    problem = replace(question(12), fill=Fill(volume_gal=265.0))
    blend = solve(problem).blend

    def weigh():
        return scale_ready(problem.stocks, blend, problem.fill, guarantees=problem)

    benchmark.pedantic(weigh, rounds=20, warmup_rounds=2)
    weighing, whole = median_ms(weigh, 20), median_ms(lambda: solve(problem))
    report(
        f"scale-ready weights of {len(blend.shares)} stocks: {weighing:.1f} ms = "
        f"{weighing / whole:.1f} x a solve()"
    )


def test_repricing_ten_thousand_recipes(benchmark):
    rng = np.random.default_rng(0)
    shares, costs = 100 * rng.dirichlet(np.ones(40), 10_000), rng.uniform(0.05, 1.0, 40)
    benchmark.pedantic(lambda: recipe_costs_per_lb(shares, costs), **ROUNDS)

    def loop():
        return [
            sum(share * cost for share, cost in zip(row, costs, strict=True)) / 100
            for row in shares[:100]
        ]

    matrix, looped = (
        median_ms(lambda: recipe_costs_per_lb(shares, costs), 50),
        100 * median_ms(loop, 5),
    )
    report(f"10,000 recipes: {matrix:.2f} ms, {looped / matrix:.0f} times faster than a loop")
