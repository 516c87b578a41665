"""Work is counted and ends where it may; a clock only refuses."""

import pytest

from formulas.engine.blend.curve import MOST_POINTS, slow_release_curve
from formulas.engine.blend.solving import solve
from formulas.engine.problem import (
    BlendProblem,
    CompatibilityRule,
    Effect,
    NutrientWish,
    SlowReleaseWish,
    Stock,
)
from formulas.engine.result import OutOfReach, Solved
from formulas.engine.work.effort import TooLarge, TooLate, allowed, refused_when, spend

STOCKS = tuple(
    Stock(
        f"S{i}", f"S{i}", 9.0 + i / 10, 0.1 + (i * 7 % 5) / 20,
        {"N.urea": 4.0 + 3 * (i % 4), "N.slow": 2.0 * (i % 3), "K2O": float(i % 5)},
        traits=frozenset({f"t{i % 3}"}),
    )
    for i in range(9)
)  # fmt: skip
RULES = tuple(
    CompatibilityRule(f"t{a}", f"t{b}", Effect.BLOCKS, "test", "test") for a, b in ((0, 1), (1, 2))
)


def question(n_pct=10.0, **more):
    wishes = (NutrientWish("N", n_pct), NutrientWish("K2O", 2.0))
    return BlendProblem(
        STOCKS, wishes, SlowReleaseWish(20.0), rules=RULES,
        smallest_charge_pct=5.0, most_stocks=3, **more,
    )  # fmt: skip


def test_a_question_within_its_work_is_answered_the_same():
    with allowed(1e9):
        inside = solve(question())
    assert isinstance(inside, Solved)
    assert inside == solve(question())


@pytest.mark.parametrize("ask", [solve, lambda problem: slow_release_curve(problem, 21)])
def test_a_question_that_takes_more_is_refused_at_the_same_place_every_time(ask):
    for _ in range(2):
        with pytest.raises(TooLarge) as refused, allowed(5):
            ask(question())
        assert not isinstance(refused.value, TooLate)


def test_out_of_reach_stands_where_its_reasons_take_too_much():
    impossible = BlendProblem(STOCKS, (NutrientWish("N", 60.0), NutrientWish("K2O", 3.9)))
    whole = solve(impossible)
    assert isinstance(whole, OutOfReach)
    assert whole.is_explained
    with allowed(15):
        short = solve(impossible)
    assert short == OutOfReach((), (), (), is_explained=False)


def test_being_late_refuses_even_the_reasons_and_changes_nothing_else():
    impossible = BlendProblem(STOCKS, (NutrientWish("N", 60.0),))
    with pytest.raises(TooLate), refused_when(lambda: True):
        solve(impossible)
    with refused_when(lambda: False):
        assert solve(question()) == solve(question())


def test_an_allowance_inside_another_is_its_own_but_late_is_late():
    with allowed(10):
        with allowed(100):
            spend(50)
        spend(9)
        with pytest.raises(TooLarge):
            spend(2)
    with refused_when(lambda: True), pytest.raises(TooLate), allowed(100):
        spend(1)


def test_a_curve_has_only_so_many_points():
    with pytest.raises(ValueError, match="2 to"):
        slow_release_curve(question(), MOST_POINTS + 1)
