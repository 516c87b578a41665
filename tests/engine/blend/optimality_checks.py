"""Proves an optimum without trusting the solver that found it.

For ``min c'x, row_lower <= Ax <= row_upper, col_lower <= x <= col_upper`` a pair (x, y, d) is
optimal exactly if x is feasible, ``c = A'y + d``, a positive dual belongs to a lower limit that
is met and a negative one to an upper limit, and so cost equals the duals times their limits
(any textbook on linear programming duality).
"""

import numpy as np


def assert_optimal(program, x, row_dual, col_dual, *, tolerance=1e-7):
    limits = program.limits
    rows = program.A @ x
    for name, values, lower, upper, dual in (
        ("row", rows, limits.row_lower, limits.row_upper, row_dual),
        ("column", x, limits.col_lower, limits.col_upper, col_dual),
    ):
        assert (values >= lower - tolerance).all(), f"a {name} is below its lower limit"
        assert (values <= upper + tolerance).all(), f"a {name} is above its upper limit"
        positive, negative = dual > tolerance, dual < -tolerance
        assert np.allclose(values[positive], lower[positive], atol=tolerance), (
            f"a {name} off its lower limit has a positive dual"
        )
        assert np.allclose(values[negative], upper[negative], atol=tolerance), (
            f"a {name} off its upper limit has a negative dual"
        )
    assert np.allclose(program.A.T @ row_dual + col_dual, program.cost, atol=tolerance), (
        "the duals do not explain the costs"
    )
    dual_cost = 0.0
    for lower, upper, dual in (
        (limits.row_lower, limits.row_upper, row_dual),
        (limits.col_lower, limits.col_upper, col_dual),
    ):
        with np.errstate(invalid="ignore"):
            limit = np.where(dual > 0, lower, upper)
        # A dual this close to zero may belong to no limit at all.
        used = np.abs(dual) > tolerance
        dual_cost += float(dual[used] @ limit[used])
    gap = abs(float(program.cost @ x) - dual_cost)
    assert gap <= 1e-6 * max(1.0, abs(dual_cost)), f"a duality gap of {gap}"
