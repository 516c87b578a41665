"""The main job of the engine: a wish becomes the cheapest blend, proved to be so."""

import sys
from dataclasses import replace

import numpy as np
import pytest

from formulas.engine import (
    EngineFailure,
    NutrientWish,
    OutOfReach,
    SlowReleaseWish,
    Solved,
    StockLimit,
    solve,
)
from formulas.engine.blend.optimise import optimise
from formulas.engine.blend.stock_table import content_table
from formulas.engine.blend.verify import verify
from tests.engine.blend.optimality_checks import assert_optimal
from tests.engine.blend.problem_catalogue import IMPOSSIBLE, SOLVABLE
from tests.engine.lawn_stocks import STOCKS, SUMMER, shares


@pytest.mark.parametrize("name", SOLVABLE)
def test_a_known_question_gets_its_known_answer(name):
    problem, expected, cost = SOLVABLE[name]
    answer = solve(problem)
    assert isinstance(answer, Solved)
    assert shares(answer.blend) == pytest.approx(expected, abs=1e-7)
    assert answer.blend.cost_per_lb == pytest.approx(cost, rel=1e-9)


@pytest.mark.parametrize("name", SOLVABLE)
def test_every_answer_is_optimal_by_its_own_duals(name):
    answer = optimise(SOLVABLE[name][0])
    program = answer.model.program(answer.limits)
    assert_optimal(program, answer.optimum.x, answer.optimum.row_dual, answer.optimum.col_dual)


@pytest.mark.parametrize("what", ["shares", "row duals", "column duals", "a wasteful recipe"])
def test_the_optimality_checks_notice_a_perturbed_answer(what):
    answer = optimise(SOLVABLE["slow release and nitrogen"][0])
    program = answer.model.program(answer.limits)
    x, rows, columns = (
        answer.optimum.x.copy(),
        answer.optimum.row_dual.copy(),
        answer.optimum.col_dual.copy(),
    )
    if what == "shares":
        x[0] += 1e-4
    elif what == "row duals":
        rows[1] += 1e-4
    elif what == "column duals":
        columns[0] -= 1e-4
    else:
        x[:] = [0.62, 0.38, 0.0]  # feasible, more triazone than needed
    with pytest.raises(AssertionError):
        assert_optimal(program, x, rows, columns)


@pytest.mark.parametrize("name", IMPOSSIBLE)
def test_an_impossible_question_is_out_of_reach_and_not_an_error(name):
    assert isinstance(solve(IMPOSSIBLE[name], explain=False), OutOfReach)


def test_a_wish_becomes_a_blend_with_analysis_share_density_and_cost():
    blend = solve(SUMMER).blend
    assert blend.analysis["N"] == pytest.approx(24.0)
    assert blend.analysis["N.slow"] == pytest.approx(12.0)
    assert blend.slow_release_pct == pytest.approx(50.0)
    assert next(iter(blend.analysis)) == "N"  # label order
    pct = shares(blend)
    by_code = {stock.code: stock for stock in STOCKS}
    volume = sum(share / by_code[code].density_lb_per_gal for code, share in pct.items())
    assert blend.density_lb_per_gal == pytest.approx(100 / volume)
    assert blend.cost_per_lb == pytest.approx(
        sum(share * by_code[code].cost_per_lb for code, share in pct.items()) / 100
    )


def test_shares_follow_the_order_of_the_stocks():
    order = [stock.code for stock in STOCKS]
    codes = [share.code for share in solve(SUMMER).blend.shares]
    assert codes == sorted(codes, key=order.index)


def test_the_same_question_twice_gives_the_same_bytes():
    assert repr(solve(SUMMER)) == repr(solve(SUMMER))


def test_an_excluded_stock_is_never_used():
    assert "KTHIO25" in shares(solve(SUMMER).blend)
    without = solve(replace(SUMMER, exclude=frozenset({"KTHIO25"})))
    assert "KTHIO25" not in shares(without.blend)
    assert without.blend.cost_per_lb > solve(SUMMER).blend.cost_per_lb


def test_strongest_maximises_the_nutrient_and_then_minimises_cost():
    question = replace(SUMMER, wishes=SUMMER.wishes[1:], strongest="N")
    strongest = solve(question)
    best = strongest.blend.analysis["N"]
    assert best > 24.0
    more = replace(
        question, strongest=None, wishes=(*question.wishes, NutrientWish("N", best + 0.01))
    )
    assert isinstance(solve(more, explain=False), OutOfReach)
    as_strong = replace(
        question, strongest=None, wishes=(*question.wishes, NutrientWish("N", best - 1e-7))
    )
    assert strongest.blend.cost_per_lb == pytest.approx(
        solve(as_strong).blend.cost_per_lb, rel=1e-6
    )


def test_a_slow_release_maximum_holds():
    answer = solve(replace(SUMMER, slow_release=SlowReleaseWish(20.0, 30.0)))
    assert 20.0 - 1e-6 <= answer.blend.slow_release_pct <= 30.0 + 1e-6


def test_a_recipe_that_misses_a_wish_is_never_returned():
    """The 5e-8 case: a solver calls this optimal at its usual tolerance of 1e-7."""
    problem = SOLVABLE["binding minimum"][0]
    verify(problem, content_table(problem.stocks), np.array([87.5, 12.5]))
    with pytest.raises(EngineFailure, match="N is 27"):
        verify(problem, content_table(problem.stocks), np.array([87.499, 12.501]))
    with pytest.raises(EngineFailure, match="add up"):
        verify(problem, content_table(problem.stocks), np.array([87.5, 12.6]))
    with pytest.raises(EngineFailure, match="negative"):
        verify(problem, content_table(problem.stocks), np.array([100.1, -0.1]))
    with pytest.raises(EngineFailure, match="not a number"):
        verify(problem, content_table(problem.stocks), np.array([np.nan, 12.5]))


def test_a_demand_above_capacity_by_a_hair_is_out_of_reach():
    question = SOLVABLE["binding minimum"][0]
    hair = replace(question, wishes=(NutrientWish("N", 32.0 + 5e-8),))
    assert isinstance(solve(hair, explain=False), OutOfReach)


@pytest.mark.parametrize(
    ("change", "message"),
    [
        ({"stock_limits": (StockLimit("UAN32", None, 50.0),)}, "above 50"),
        ({"slow_release": SlowReleaseWish(10.0)}, "slow release"),
        ({"exclude": frozenset({"UAN32"})}, "UAN32"),
        ({"most_stocks": 1, "smallest_charge_pct": 20.0}, "smallest charge"),
    ],
)
def test_verification_covers_every_kind_of_wish(change, message):
    problem = replace(SOLVABLE["binding minimum"][0], **change)
    with pytest.raises(EngineFailure, match=message):
        verify(problem, content_table(problem.stocks), np.array([87.5, 12.5]))


def test_a_solver_that_lies_is_caught(monkeypatch):
    """Whatever the solver claims, the recipe is checked against the question itself."""
    honest = optimise(SUMMER)
    wrong = replace(honest, pct=np.roll(honest.pct, 1))
    # The package's ``solve`` is the function; the module of that name is in sys.modules.
    module = sys.modules["formulas.engine.blend.solving"]
    monkeypatch.setattr(module, "optimise", lambda _problem, **_more: wrong)
    with pytest.raises(EngineFailure):
        solve(SUMMER)


def test_findings_name_what_a_person_must_know():
    found = {finding.code: finding for finding in solve(SUMMER).blend.findings}
    assert found["jar_test"].severity == "caution"
    assert "May salt out when cold." in found["jar_test"].message
    assert found["jar_test"].source == "demo"
    assert "estimate" in found["density_estimate"].message
    iron = replace(SUMMER, wishes=(*SUMMER.wishes, NutrientWish("Fe", 0.1)))
    codes = {finding.code for finding in solve(iron).blend.findings}
    assert "compatible" in codes
    humic = replace(SUMMER, wishes=(NutrientWish("N", 10.0), NutrientWish("humic_acid", 1.0)))
    severities = {f.code: f.severity for f in solve(humic).blend.findings}
    assert severities["compatibility_limit"] == "info"
