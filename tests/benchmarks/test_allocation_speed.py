"""How long sharing scarce stock takes beside the solver alone. Nothing here is a pass or a fail.

    pytest tests/benchmarks/test_allocation_speed.py --benchmark-enable --benchmark-only -s

The baseline is HiGHS on the same matrix, handed over with the same options in the same run.
"""

import statistics
import time

import highspy
import numpy as np
import pytest

from formulas.engine import NutrientWish, SlowReleaseWish
from formulas.engine.allocation.allocating import OpenOrder, OrderVerdict, allocate, penalty_per_lb
from formulas.engine.allocation.program import allocation_program
from formulas.engine.blend.highs import QuietHighs
from formulas.engine.blend.stock_table import N_COLUMN, TABLE_COLUMN, content_table
from tests.benchmarks.engine_problems import WISHED, question
from tests.benchmarks.figures import ratio

SLOW = TABLE_COLUMN["N.slow"]


def plant(order_count, stock_count, *, whole_share, seed=0):
    """Orders of six stocks each, most of them changeable, and stock for about two thirds."""
    rng = np.random.default_rng(seed)
    stocks = question(stock_count, seed).stocks
    table = content_table(stocks)
    dearest = max(stock.cost_per_lb for stock in stocks)
    orders, wanted = [], np.zeros(stock_count)
    for number in range(order_count):
        shares = np.zeros(stock_count)
        shares[rng.choice(stock_count, 6, replace=False)] = rng.dirichlet(np.ones(6))
        contents = shares @ table
        wishes = tuple(
            NutrientWish(key, 0.97 * float(contents[TABLE_COLUMN[key]]))
            for key in WISHED
            if contents[TABLE_COLUMN[key]] > 0
        )
        slow = SlowReleaseWish(90 * float(contents[SLOW] / contents[N_COLUMN]))
        mass = float(rng.integers(5, 40) * 100)
        wanted += mass * shares
        orders.append(
            OpenOrder(
                f"O{number:03d}",
                mass,
                {s.code: 100 * float(x) for s, x in zip(stocks, shares, strict=True) if x > 0},
                penalty_per_lb(dearest, float(rng.integers(1, 4)), float(rng.integers(-3, 30))),
                wishes,
                slow,
                may_change=bool(rng.random() < 0.7),
                may_be_partial=bool(rng.random() >= whole_share),
            )
        )
    held = wanted * rng.uniform(0.3, 1.2, stock_count)
    return orders, stocks, {s.code: float(lb) for s, lb in zip(stocks, held, strict=True)}


def bare_highs(program, options):
    """The plainest correct call on arrays that are ready: build one HighsLp, pass, run, read."""
    rows, columns = program.shape

    def run():
        lp = highspy.HighsLp()
        lp.num_col_, lp.num_row_ = columns, rows
        lp.col_cost_ = program.cost
        lp.col_lower_, lp.col_upper_ = program.limits.col_lower, program.limits.col_upper
        lp.row_lower_, lp.row_upper_ = program.limits.row_lower, program.limits.row_upper
        lp.a_matrix_.format_ = highspy.MatrixFormat.kRowwise
        lp.a_matrix_.start_ = program.rows.start
        lp.a_matrix_.index_ = program.rows.column
        lp.a_matrix_.value_ = program.rows.value
        solver = QuietHighs()
        for name, value in {"threads": 1, "random_seed": 0, **options}.items():
            solver.setOptionValue(name, value)
        solver.passModel(lp)
        solver.run()
        return solver.getInfo().objective_function_value

    return run


def median_s(action, rounds=3):
    times = []
    for _ in range(rounds):
        start = time.perf_counter()
        action()
        times.append(time.perf_counter() - start)
    return statistics.median(times)


@pytest.mark.parametrize("whole_share", [0.0, 0.5, 1.0])
def test_three_hundred_orders_and_forty_stocks(benchmark, whole_share):
    orders, stocks, on_hand = plant(300, 40, whole_share=whole_share)
    held = np.array([on_hand[stock.code] for stock in stocks])
    program = allocation_program(orders, stocks, held, ())
    same = bare_highs(program, {"solver": "ipm", "presolve": "on"})
    simplex = bare_highs(program, {"presolve": "off"})
    plan = allocate(orders, stocks, on_hand)
    assert same() == pytest.approx(simplex(), rel=1e-6)
    assert plan.bound <= plan.total + 1e-6
    if whole_share == 0:
        assert plan.total == pytest.approx(same(), rel=1e-6)
    benchmark.pedantic(lambda: allocate(orders, stocks, on_hand), rounds=1)
    whole = median_s(lambda: allocate(orders, stocks, on_hand))
    built = median_s(lambda: allocation_program(orders, stocks, held, ()))
    bare, plain = median_s(same), median_s(simplex)
    name = f"300_orders_{100 * whole_share:.0f}_pct_whole"
    ratio(f"allocation_to_interior_point_{name}", whole / bare)
    ratio(f"allocation_to_simplex_{name}", whole / plain)
    ratio(f"allocation_arrays_to_interior_point_{name}", built / bare)
    made = sum(each.verdict is not OrderVerdict.NOT_NOW for each in plan.orders)
    print(  # noqa: T201 - the point of a benchmark
        f"\n300 orders x 40 stocks, {100 * whole_share:.0f} % all or nothing, "
        f"{program.shape[0]} x {program.shape[1]} with {len(program.rows.value)} entries: "
        f"allocate() {whole:.2f} s (arrays {built:.3f} s), bare HiGHS {bare:.2f} s by interior "
        f"point, {plain:.2f} s by simplex: ratio {whole / bare:.2f} and {whole / plain:.2f}; "
        f"{made} orders made, total within {100 * (plan.total / plan.bound - 1):.2f} % of the bound"
    )
