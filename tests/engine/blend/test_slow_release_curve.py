"""Cost against slow-release share, and what each wish costs at the margin."""

from dataclasses import replace

import pytest

from formulas.engine import (
    BadProblem,
    BlendProblem,
    NutrientWish,
    OutOfReach,
    SlowReleaseWish,
    solve,
)
from formulas.engine import slow_release_curve as curve_of
from tests.engine.lawn_stocks import FEDTA, FES, SUMMER, TRIAZONE, UAN32, UREA, WATER


def at_least(problem, share):
    return solve(replace(problem, slow_release=SlowReleaseWish(share)), explain=False)


def test_each_point_is_the_least_cost_at_that_share():
    curve = curve_of(SUMMER)
    assert len(curve) == 21
    assert curve[0].slow_release_pct == 0.0
    for point in curve:
        answer = at_least(SUMMER, point.slow_release_pct)
        assert point.cost_per_lb == pytest.approx(answer.blend.cost_per_lb, abs=1e-8)


def test_the_curve_ends_at_the_highest_share_that_can_be_had():
    # 24 % N and 3 % K2O leave 88 % for nitrogen: t of triazone, 0.88 - t of UAN 32 or urea 23;
    # all triazone holds 24.64 % N, so the share is 72 % when 24 % N is triazone alone.
    curve = curve_of(SUMMER)
    assert curve[-1].slow_release_pct == pytest.approx(72.0, abs=1e-3)
    assert isinstance(at_least(SUMMER, curve[-1].slow_release_pct + 0.1), OutOfReach)


def test_costs_never_fall_along_the_curve():
    costs = [point.cost_per_lb for point in curve_of(SUMMER)]
    assert costs == sorted(costs)


def test_the_curve_obeys_the_rules():
    """With unchelated iron the only iron, triazone cannot come in: the curve stops at zero."""
    problem = replace(
        SUMMER,
        stocks=(UAN32, UREA, TRIAZONE, FES, WATER),
        wishes=(NutrientWish("N", 20.0), NutrientWish("Fe", 0.1)),
    )
    assert curve_of(problem)[-1].slow_release_pct == 0.0
    with_chelate = replace(problem, stocks=(*problem.stocks, FEDTA))
    curve = curve_of(with_chelate)
    assert curve[-1].slow_release_pct > 60.0
    for point in curve:
        answer = at_least(with_chelate, point.slow_release_pct)
        assert point.cost_per_lb == pytest.approx(answer.blend.cost_per_lb, abs=1e-7)


def test_no_curve_where_nothing_can_be_made_or_nothing_holds_nitrogen():
    assert curve_of(replace(SUMMER, wishes=(NutrientWish("N", 40.0),))) == ()
    assert curve_of(BlendProblem((FES, WATER), (NutrientWish("Fe", 1.0),))) == ()
    # A blend without any nitrogen would do, so there is no share to plot.
    assert curve_of(replace(SUMMER, wishes=(NutrientWish("K2O", 3.0),))) == ()


def test_a_number_of_stocks_is_obeyed_along_the_curve():
    problem = replace(SUMMER, most_stocks=3, wishes=(*SUMMER.wishes, NutrientWish("Fe", 0.1)))
    for point in curve_of(problem, points=4):
        answer = at_least(problem, point.slow_release_pct)
        assert point.cost_per_lb == pytest.approx(answer.blend.cost_per_lb, abs=1e-7)


def test_the_number_of_points_is_the_callers():
    assert len(curve_of(SUMMER, points=5)) == 5
    with pytest.raises(ValueError, match="2 to"):
        curve_of(SUMMER, points=1)
    with pytest.raises(BadProblem):
        curve_of(replace(SUMMER, most_stocks=0))


def test_a_curve_that_needs_the_general_search_is_the_same_curve(monkeypatch):
    problem = replace(SUMMER, most_stocks=3, wishes=(*SUMMER.wishes, NutrientWish("Fe", 0.1)))
    usual = curve_of(problem, points=4)
    monkeypatch.setattr("formulas.engine.blend.branch_and_bound._MOST_NODES", 1)
    general = curve_of(problem, points=4)
    assert [point.cost_per_lb for point in general] == pytest.approx(
        [point.cost_per_lb for point in usual], abs=1e-6
    )
