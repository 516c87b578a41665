"""What is true of every answer, on random questions."""

from dataclasses import replace

import pytest
from hypothesis import assume, given
from hypothesis import strategies as st

from formulas.engine import (
    Effect,
    Fill,
    NotWeighable,
    NutrientWish,
    OutOfReach,
    Solved,
    scale_ready,
    solve,
)
from formulas.engine.blend.optimise import optimise
from formulas.engine.wishes import Side, WishId, WishKind, relaxed_problem
from tests.engine.blend import strategies
from tests.engine.blend.optimality_checks import assert_optimal
from tests.engine.blend.possible import Possible
from tests.engine.lawn_stocks import shares


def cost_of(problem):
    answer = solve(problem, explain=False)
    return answer.blend.cost_per_lb if isinstance(answer, Solved) else None


@given(strategies.problems())
def test_every_answer_adds_up_and_meets_every_wish(problem):
    answer = solve(problem, explain=False)
    assume(isinstance(answer, Solved))
    blend = answer.blend
    pct = shares(blend)
    assert sum(pct.values()) == pytest.approx(100.0, abs=1e-9)
    for wish in problem.wishes:
        content = blend.analysis.get(wish.nutrient, 0.0)
        assert wish.min_pct is None or content >= wish.min_pct - 1e-7
        assert wish.max_pct is None or content <= wish.max_pct + 1e-7
    if problem.slow_release is not None and blend.analysis.get("N", 0.0) > 1e-3:
        assert blend.slow_release_pct >= problem.slow_release.min_pct - 1e-3
    assert all(share >= problem.smallest_charge_pct - 1e-7 for share in pct.values())
    if problem.most_stocks is not None:
        assert len(set(pct) - {"W"}) <= problem.most_stocks


@given(strategies.problems())
def test_blocked_pairs_are_never_in_a_recipe(problem):
    answer = solve(problem, explain=False)
    assume(isinstance(answer, Solved))
    used = [stock for stock in problem.stocks if stock.code in shares(answer.blend)]
    for rule in problem.rules:
        if rule.effect is Effect.BLOCKS:
            assert not any(
                rule.trait_a in first.traits and rule.trait_b in second.traits
                for first in used
                for second in used
                if first is not second
            )


@given(strategies.linear_problems())
def test_every_linear_answer_is_proved_optimal(problem):
    answer = optimise(problem)
    assume(answer is not None)
    assert_optimal(
        answer.model.program(answer.limits),
        answer.optimum.x,
        answer.optimum.row_dual,
        answer.optimum.col_dual,
        tolerance=1e-6,
    )


@given(strategies.problems(), st.randoms(use_true_random=False))
def test_permuting_the_stocks_changes_nothing_but_their_order(problem, random):
    stocks = list(problem.stocks)
    random.shuffle(stocks)
    first = solve(problem, explain=False)
    second = solve(replace(problem, stocks=tuple(stocks)), explain=False)
    assert isinstance(first, type(second))
    if isinstance(first, Solved):
        assert shares(first.blend) == shares(second.blend)


@given(strategies.linear_problems(), strategies.stocks("NEW"))
def test_adding_a_stock_never_raises_the_cost(problem, extra):
    before = cost_of(problem)
    after = cost_of(replace(problem, stocks=(*problem.stocks, extra)))
    if before is not None:
        assert after <= before + 1e-8


@given(strategies.problems(), st.floats(0.0, 3.0))
def test_loosening_a_wish_never_raises_the_cost(problem, less):
    before = cost_of(problem)
    assume(before is not None)
    wish = problem.wishes[0]
    looser = NutrientWish(wish.nutrient, max(0.0, wish.min_pct - less), wish.max_pct)
    assert cost_of(replace(problem, wishes=(looser, *problem.wishes[1:]))) <= before + 1e-8


@given(strategies.linear_problems())
def test_a_cheaper_twin_is_never_worse(problem):
    before = cost_of(problem)
    assume(before is not None)
    twin = replace(problem.stocks[0], code="TWIN", cost_per_lb=problem.stocks[0].cost_per_lb / 2)
    assert cost_of(replace(problem, stocks=(*problem.stocks, twin))) <= before + 1e-8


@given(strategies.linear_problems())
def test_a_blends_own_analysis_is_a_wish_that_can_be_met(problem):
    answer = solve(problem, explain=False)
    assume(isinstance(answer, Solved))
    own = tuple(
        NutrientWish(key, max(0.0, value - 1e-6), value + 1e-6)
        for key, value in answer.blend.analysis.items()
        if value < 99
    )
    again = solve(replace(problem, wishes=own, slow_release=None), explain=False)
    assert isinstance(again, Solved)
    assert again.blend.cost_per_lb <= answer.blend.cost_per_lb + 1e-8


@given(strategies.problems(reachable=False))
def test_every_conflict_is_irreducible_and_every_reach_real(problem):
    answer = solve(problem)
    assume(isinstance(answer, OutOfReach))
    possible = Possible(problem)
    conflict = possible.named(answer.conflict)
    assert not possible(conflict)
    for wish in conflict:
        assert possible([other for other in conflict if other is not wish])
    for reach in answer.reach:
        wish = reach.wish
        if reach.best is None or wish.kind.value == "most_stocks":
            continue
        at_best = relaxed_problem(problem, [(wish, reach.best)])
        assert isinstance(solve(at_best, explain=False), Solved)
        beyond = reach.best + 0.1 if wish.at_least else reach.best - 0.1
        if 0 <= beyond <= 100:
            further = relaxed_problem(problem, [(wish, beyond)])
            assert isinstance(solve(further, explain=False), OutOfReach)


@given(strategies.problems(reachable=False))
def test_every_alternative_meets_what_it_says(problem):
    answer = solve(problem)
    assume(isinstance(answer, OutOfReach))
    for alternative in answer.alternatives:
        moved = {move.wish: move.to for move in alternative.relaxed}
        analysis = alternative.blend.analysis
        for index, wish in enumerate(problem.wishes):
            low_id, high_id = (
                WishId(WishKind.NUTRIENT, side, wish.nutrient, index) for side in Side
            )
            low = moved.get(low_id, wish.min_pct)
            assert analysis.get(wish.nutrient, 0.0) >= low - 1e-7
            if wish.max_pct is not None:
                high = moved.get(high_id, wish.max_pct)
                assert analysis.get(wish.nutrient, 0.0) <= high + 1e-7


@given(strategies.problems(), st.sampled_from([0.5, 1.0, 5.0]))
def test_guarantees_hold_after_rounding_to_the_scale(problem, step):
    stocks = tuple(replace(stock, scale_step_lb=step) for stock in problem.stocks)
    problem = replace(problem, stocks=stocks, fill=Fill(mass_lb=3000.0))
    answer = solve(problem, explain=False)
    assume(isinstance(answer, Solved))
    try:
        ready = scale_ready(stocks, answer.blend, problem.fill, guarantees=problem)
    except NotWeighable:
        assume(False)
    for weight in ready.weights:
        assert weight.weight_lb == weight.steps * step
    assert ready.mass_lb == pytest.approx(3000.0, rel=0.005001)
    for wish in problem.wishes:
        content = sum(
            weight.weight_lb * ready_content(stocks, weight.code, wish.nutrient)
            for weight in ready.weights
        ) / sum(weight.weight_lb for weight in ready.weights)
        assert wish.min_pct is None or content >= wish.min_pct - 1e-9
        assert wish.max_pct is None or content <= wish.max_pct + 1e-9


def ready_content(stocks, code, nutrient):
    (analysis,) = [stock.analysis for stock in stocks if stock.code == code]
    if nutrient == "N":
        return sum(value for key, value in analysis.items() if key.startswith("N."))
    return analysis.get(nutrient, 0.0)


@given(strategies.problems(), st.integers(2, 5))
def test_scaling_the_batch_scales_the_weights(problem, times):
    """With steps scaled alike nothing else changes, so every weight is ``times`` the first."""
    answer = solve(problem, explain=False)
    assume(isinstance(answer, Solved))
    blend = answer.blend
    larger = tuple(replace(stock, scale_step_lb=float(times)) for stock in problem.stocks)
    try:
        small = scale_ready(
            problem.stocks, blend, Fill(mass_lb=1000.0), guarantees={}, tolerance_pct=5.0
        )
    except NotWeighable:
        assume(False)
    large = scale_ready(
        larger, blend, Fill(mass_lb=1000.0 * times), guarantees={}, tolerance_pct=5.0
    )
    for one, many in zip(small.weights, large.weights, strict=True):
        assert abs(many.weight_lb - times * one.weight_lb) <= times * 1.0 + 1e-9
    assert large.mass_lb == pytest.approx(times * small.mass_lb, abs=times * len(small.weights))
