"""What moving a wish one step costs is what the moved question answers by itself."""

from dataclasses import replace

import pytest

from formulas.engine.blend.solving import solve
from formulas.engine.blend.wish_costs import StepStatus, moved_wishes
from formulas.engine.problem import BlendProblem, NutrientWish, Per, SlowReleaseWish
from formulas.engine.result import OutOfReach
from formulas.engine.work.effort import allowed
from tests.engine.lawn_stocks import RULES, STOCKS

WISH = BlendProblem(
    STOCKS,
    (NutrientWish("N", 20.0), NutrientWish("K2O", 3.0, 6.0), NutrientWish("Fe", 0.1)),
    slow_release=SlowReleaseWish(min_pct=30.0),
)
WISHES = [
    WISH,
    replace(WISH, rules=RULES, most_stocks=5, smallest_charge_pct=1.0),
    replace(WISH, cheapest_per=Per.GAL),
    replace(WISH, wishes=(NutrientWish("N", 24.0, 24.0), NutrientWish("K2O", 0.5))),
]


def moves_of(problem):
    return moved_wishes(problem, solve(problem).blend)


@pytest.mark.parametrize("problem", WISHES)
def test_each_step_is_the_answer_of_the_moved_question(problem):
    moves = moves_of(problem)
    assert moves
    for move in moves:
        alone = solve(move.problem, explain=False)
        if isinstance(alone, OutOfReach):
            assert move.status is StepStatus.OUT_OF_REACH
            continue
        assert move.status is StepStatus.SOLVED
        assert move.blend.density_lb_per_gal == pytest.approx(alone.blend.density_lb_per_gal)
        assert move.blend.cost_per_lb == pytest.approx(alone.blend.cost_per_lb, abs=1e-9)
        assert [x.code for x in move.blend.shares] == [x.code for x in alone.blend.shares]


def test_steps_go_both_ways_in_sizes_a_person_says():
    steps = [(move.wish.key, move.wish.side.value, move.step) for move in moves_of(WISH)]
    assert steps == [
        ("N", "min", 1.0), ("N", "min", -1.0), ("K2O", "min", 1.0), ("K2O", "min", -1.0),
        ("K2O", "max", 1.0), ("K2O", "max", -1.0), ("Fe", "min", 0.1), ("Fe", "min", -0.1),
        ("", "min", 5.0), ("", "min", -5.0),
    ]  # fmt: skip


def test_a_step_that_crosses_its_own_other_side_is_no_question():
    exact = replace(WISH, wishes=(NutrientWish("N", 20.0, 20.0),), slow_release=None)
    assert [(x.wish.side.value, x.step) for x in moves_of(exact)] == [
        ("min", -1.0),
        ("max", 1.0),
    ]


def test_beyond_its_work_the_rest_is_not_known():
    own = solve(WISH).blend
    with allowed(30):
        moves = moved_wishes(WISH, own)
    assert moves[-1].status is StepStatus.TOO_LARGE
