"""The one module that speaks to HiGHS: quiet, checked, every status mapped."""

import gc
import subprocess
import sys

import highspy
import numpy as np
import pytest

from formulas.engine.blend import highs
from formulas.engine.blend.highs import (
    MIP_OPTIONS,
    OPTIONS,
    STATUS_MEANING,
    Outcome,
    QuietHighs,
    Session,
    outcome_of,
    set_options,
)
from formulas.engine.blend.programs import Limits, Program, SparseRows
from formulas.engine.result import EngineFailure
from formulas.engine.work.effort import TooLarge, TooLate, allowed, refused_when

INF = np.inf


def program(**changes):
    """min 2x + 3y, x + y >= 10, x <= 4: by hand x = 4, y = 6, cost 26."""
    values = {
        "cost": np.array([2.0, 3.0]),
        "A": np.array([[1.0, 1.0]]),
        "limits": Limits(np.array([10.0]), np.array([INF]), np.zeros(2), np.array([4.0, INF])),
        "integer": np.zeros(2, dtype=bool),
    }
    return Program(**(values | changes))


def test_the_two_by_two_case_worked_by_hand():
    optimum = Session(program()).run()
    assert optimum.objective == pytest.approx(26.0)
    assert optimum.x == pytest.approx([4.0, 6.0])
    # One more asked costs 3 more; one more of x allowed saves 1.
    assert optimum.row_dual == pytest.approx([3.0])
    assert optimum.col_dual == pytest.approx([-1.0, 0.0])


def test_the_duals_are_what_a_changed_limit_really_costs():
    session = Session(program())
    session.set_limits(Limits(np.array([11.0]), np.array([INF]), np.zeros(2), np.array([4, INF])))
    assert session.run().objective == pytest.approx(26.0 + 3.0)
    session.set_limits(Limits(np.array([10.0]), np.array([INF]), np.zeros(2), np.array([5, INF])))
    assert session.run().objective == pytest.approx(26.0 - 1.0)


def test_a_run_that_fails_where_it_went_on_from_begins_afresh_once(monkeypatch):
    session = Session(program())
    ends = [highspy.HighsStatus.kError]
    run = session._solver.run
    monkeypatch.setattr(session._solver, "run", lambda: ends.pop() if ends else run())
    assert session.run().objective == pytest.approx(26.0)
    ends += 2 * [highspy.HighsStatus.kError]
    with pytest.raises(EngineFailure, match="refused the run"):
        session.run()


def test_infeasible_is_none_and_unbounded_is_a_failure():
    impossible = Limits(np.array([10.0]), np.array([INF]), np.zeros(2), np.array([4.0, 5.0]))
    assert Session(program(limits=impossible)).run() is None
    with pytest.raises(EngineFailure):
        Session(program(cost=np.array([-1.0, -1.0]))).run()


def test_whole_numbers_are_whole():
    whole = program(cost=np.array([2.0, 3.0]), integer=np.array([True, True]))
    limits = Limits(np.array([9.5]), np.array([INF]), np.zeros(2), np.array([4.0, INF]))
    session = Session(Program(whole.cost, whole.A, limits, whole.integer))
    assert session.run().x == pytest.approx([4.0, 6.0])


OUT_OF_WORK = {
    "kTimeLimit", "kIterationLimit", "kSolutionLimit", "kInterrupt", "kHighsInterrupt",
}  # fmt: skip


@pytest.mark.parametrize("name", highspy.HighsModelStatus.__members__)
def test_every_status_has_a_meaning(name):
    status = highspy.HighsModelStatus.__members__[name]
    meaning = STATUS_MEANING[status]
    if name == "kOptimal":
        assert outcome_of(status) is Outcome.OPTIMAL
    elif name in ("kInfeasible", "kUnboundedOrInfeasible"):
        assert outcome_of(status) is Outcome.INFEASIBLE
    elif name in OUT_OF_WORK:
        with pytest.raises(TooLarge):
            outcome_of(status)
    else:
        with pytest.raises(EngineFailure, match=meaning):
            outcome_of(status)


def test_a_status_from_a_later_release_is_a_failure():
    with pytest.raises(EngineFailure, match="unknown status"):
        outcome_of("kSomethingNew")


def compressed(value=1.0):
    return SparseRows(
        np.array([0, 2], dtype=np.int32), np.array([0, 1], dtype=np.int32), np.array([1.0, value])
    )


def test_compressed_rows_are_the_same_program_from_any_side():
    for first in (Session.run, Session.run_from_inside):
        session = Session(program(A=compressed()))
        assert first(session).objective == pytest.approx(26.0)
        column = np.zeros(1, dtype=np.int32)
        session.set_column_limits(column, np.zeros(1), np.ones(1))
        assert session.run().objective == pytest.approx(2 + 27)
    with pytest.raises(EngineFailure, match="not finite"):
        Session(program(A=compressed(np.nan)))


def test_steps_are_limited_for_one_run_only():
    session = Session(program())
    assert session.run_within(0) is None
    assert session.run().objective == pytest.approx(26.0)
    assert session.steps > 0
    assert session.run_within(5).objective == pytest.approx(26.0)


@pytest.mark.parametrize("bad", [np.nan, np.inf])
def test_a_number_that_is_not_finite_never_reaches_the_solver(bad):
    with pytest.raises(EngineFailure):
        Session(program(cost=np.array([bad, 3.0])))
    with pytest.raises(EngineFailure):
        Session(program(A=np.array([[bad, 1.0]])))
    with pytest.raises(EngineFailure):
        Session(program()).set_cost(np.array([bad, 3.0]))
    with pytest.raises(EngineFailure):
        Session(program()).set_row(0, np.array([bad, 3.0]))
    nan = Limits(np.array([np.nan]), np.array([INF]), np.zeros(2), np.ones(2))
    with pytest.raises(EngineFailure):
        Session(program(limits=nan))
    with pytest.raises(EngineFailure):
        Session(program()).set_limits(nan)


@pytest.mark.parametrize("option", [{"no_such_option": 1}, {"threads": "one"}])
def test_a_refused_option_is_raised(option):
    with pytest.raises(EngineFailure, match="refused the option"):
        set_options(QuietHighs(), option)


def test_one_thread_and_a_fixed_seed():
    assert OPTIONS["threads"] == 1
    assert OPTIONS["random_seed"] == 0


def hard_search():
    """Sixty yes/no columns in twenty rows: thousands of nodes."""
    rng = np.random.default_rng(0)
    n = 60
    A = np.vstack([rng.integers(1, 40, (20, n))]).astype(float)
    limits = Limits(A.sum(axis=1) * 0.5, np.full(20, INF), np.zeros(n), np.ones(n))
    cost = rng.integers(1, 40, n).astype(float)
    return Program(cost, A, limits, np.ones(n, dtype=bool)), A, limits


def test_a_search_out_of_nodes_answers_with_the_best_by_then_and_its_gap():
    program, A, limits = hard_search()
    session = Session(program)
    few = session.run_within_nodes(1)
    more = session.run_within_nodes(200)
    assert (A @ few.x >= limits.row_lower - 1e-6).all()
    assert more.objective <= few.objective + 1e-9
    assert few.gap > 0
    # The gap is a true bound: nothing found later is below it.
    assert more.objective >= few.objective * (1 - few.gap) - 1e-6
    again = Session(program).run_within_nodes(1)
    assert again.x == pytest.approx(few.x, abs=0.0)


def test_a_search_out_of_work_gives_the_best_by_then_only_where_it_is_asked_for():
    program, A, limits = hard_search()
    with allowed(500):
        found = Session(program).run_for_best()
    assert (A @ found.x >= limits.row_lower - 1e-6).all()
    assert found.gap > 0
    with pytest.raises(TooLarge), allowed(500):
        Session(program).run()
    with pytest.raises(TooLate), refused_when(lambda: True):
        Session(program).run_for_best()


def test_a_search_begins_with_an_answer_that_is_known():
    program, _, _ = hard_search()
    best = Session(program).run_within_nodes(200)
    session = Session(program)
    session.begin_with(best.x)
    assert session.run_within_nodes(1).objective <= best.objective + 1e-9


def test_a_search_that_is_near_enough_ends_there():
    program, _, _ = hard_search()
    assert Session(program).run_within_nodes(10_000, enough_gap=0.5).gap <= 0.5


def test_no_whole_number_in_reach_is_no_answer():
    limits = Limits(np.array([1.2]), np.array([1.8]), np.zeros(1), np.full(1, 9.0))
    between = Program(np.ones(1), np.ones((1, 1)), limits, np.ones(1, dtype=bool))
    session = Session(between)
    assert session.run_within_nodes(10) is None
    assert session.run() is None


def test_no_clock_decides_what_an_answer_is():
    assert not any("time" in name for name in (*OPTIONS, *MIP_OPTIONS))


def test_the_solver_never_writes_to_standard_output():
    """JSON goes to the same stream; the first Highs of a process likes to print a banner."""
    code = (
        "from formulas.engine import *;"
        "s = Stock('A', 'A', 9.0, 0.2, {'N.urea': 20.0});"
        "solve(BlendProblem((s,), (NutrientWish('N', 10.0),)))"
    )
    run = subprocess.run([sys.executable, "-c", code], capture_output=True, check=True)
    assert run.stdout == b""
    assert run.stderr == b""


def test_a_solver_of_a_session_that_was_garbage_in_a_circle_serves_again():
    highs._IDLE.clear()
    session = Session(program())
    session.itself = session
    del session
    gc.collect()
    (kept,) = highs._IDLE
    whole = Session(program(integer=np.array([True, True])))
    assert whole._solver is kept
    assert whole.run() is not None
