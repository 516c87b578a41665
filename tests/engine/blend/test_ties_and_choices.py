"""Choices (rules, smallest charge, number of stocks) and ties, decided the same way everywhere."""

import itertools
from dataclasses import replace

import pytest

from formulas.engine import (
    BlendProblem,
    CompatibilityRule,
    Effect,
    NutrientWish,
    OutOfReach,
    Solved,
    StockLimit,
    solve,
)
from formulas.engine.blend.optimise import optimise
from tests.engine.lawn_stocks import (
    HUM,
    HUMIC_RULE,
    IRON_RULE,
    SUMMER,
    TRIAZONE,
    UAN32,
    UREA,
    WATER,
    shares,
    stock,
)
from tests.engine.said import said

IRON = replace(SUMMER, wishes=(NutrientWish("N", 24.0), NutrientWish("Fe", 0.1)))


def test_blocked_stocks_never_meet_and_the_dearer_way_is_taken():
    without_rule = solve(replace(IRON, rules=()))
    assert {"TRIAZONE", "FES"} <= set(shares(without_rule.blend))
    answer = solve(IRON)
    used = set(shares(answer.blend))
    assert "TRIAZONE" in used
    assert "FES" not in used
    assert "FEDTA" in used
    assert answer.blend.cost_per_lb > without_rule.blend.cost_per_lb


def test_choices_are_only_made_when_the_plain_answer_breaks_one(monkeypatch):
    def never(model, problem):
        raise AssertionError("the plain answer keeps every rule")

    monkeypatch.setattr("formulas.engine.blend.optimise.with_choices", never)
    assert isinstance(solve(SUMMER), Solved)
    assert isinstance(solve(replace(SUMMER, most_stocks=6, smallest_charge_pct=0.25)), Solved)
    with pytest.raises(AssertionError, match="keeps every rule"):
        solve(IRON)


def brute_force(problem):
    """Least cost over every set of stocks, each solved without choices."""
    best = None
    for size in range(1, len(problem.stocks) + 1):
        for chosen in itertools.combinations(problem.stocks, size):
            counted = sum(not stock.is_water for stock in chosen)
            if problem.most_stocks is not None and counted > problem.most_stocks:
                continue
            if any(
                rule.effect is Effect.BLOCKS
                and rule.trait_a in first.traits
                and rule.trait_b in second.traits
                for rule in problem.rules
                for first, second in itertools.permutations(chosen, 2)
            ):
                continue
            limits = [StockLimit(s.code, problem.smallest_charge_pct) for s in chosen]
            if sum(limit.min_pct for limit in limits) > 100:
                continue
            plain = replace(
                problem,
                stocks=chosen,
                rules=(),
                most_stocks=None,
                smallest_charge_pct=0.0,
                stock_limits=tuple(limits),
                exclude=frozenset(),
            )
            answer = solve(plain, explain=False)
            if isinstance(answer, Solved):
                cost = answer.blend.cost_per_lb
                best = cost if best is None else min(best, cost)
    return best


@pytest.mark.parametrize(
    "question",
    [
        IRON,
        replace(IRON, most_stocks=3),
        replace(IRON, smallest_charge_pct=5.0),
        replace(IRON, most_stocks=4, smallest_charge_pct=3.0),
        replace(SUMMER, most_stocks=2),
    ],
)
def test_the_choice_is_the_best_of_all_choices(question):
    question = replace(question, rules=(IRON_RULE,))
    answer = solve(question)
    assert answer.blend.cost_per_lb == pytest.approx(brute_force(question), abs=1e-8)


def test_a_smallest_charge_is_kept_or_the_stock_left_out():
    answer = solve(replace(IRON, smallest_charge_pct=5.0))
    assert min(shares(answer.blend).values()) >= 5.0 - 1e-7


def test_water_is_not_counted():
    question = BlendProblem((UREA, WATER), (NutrientWish("N", 10.0),), most_stocks=1)
    assert set(shares(solve(question).blend)) == {"UREA", "WATER"}


def test_a_stock_with_both_traits_is_compatible_with_itself():
    rule = CompatibilityRule("urea", "micros", Effect.BLOCKS, "They react.", "demo")
    both = stock("BOTH", 10.0, 0.3, {"N.urea": 10.0, "Fe": 1.0}, "urea", "micros")
    urea = stock("U", 9.5, 0.1, {"N.urea": 23.0}, "urea")
    alone = BlendProblem((both, WATER), (NutrientWish("N", 5.0),), rules=(rule,))
    assert set(shares(solve(alone).blend)) == {"BOTH", "WATER"}
    mixed = BlendProblem(
        (both, urea, WATER), (NutrientWish("N", 15.0), NutrientWish("Fe", 0.5)), rules=(rule,)
    )
    assert isinstance(solve(replace(mixed, rules=()), explain=False), Solved)
    assert isinstance(solve(mixed, explain=False), OutOfReach)


@pytest.mark.parametrize("turned", [False, True])
def test_a_limit_as_a_ratio_binds_only_beside_its_partner(turned):
    """Up to 1:1: 10 % triazone allows 10 % humic; without triazone humic is free."""
    rule = HUMIC_RULE
    question = BlendProblem(
        (UREA, TRIAZONE, HUM, WATER),
        (NutrientWish("humic_acid", 2.4), NutrientWish("N", 5.0)),
        rules=(rule,),
        stock_limits=(StockLimit("TRIAZONE", 10.0),) if not turned else (),
    )
    answer = solve(question)
    used = shares(answer.blend)
    assert used["HUM"] == pytest.approx(20.0)
    if turned:
        assert "TRIAZONE" not in used
    else:
        assert used["TRIAZONE"] == pytest.approx(20.0)


def test_a_limit_as_a_share_binds_only_beside_its_partner():
    rule = replace(HUMIC_RULE, largest_ratio=None, largest_pct=8.0)
    wishes = (NutrientWish("humic_acid", 1.2),)
    free = BlendProblem((UREA, TRIAZONE, HUM, WATER), wishes, rules=(rule,))
    assert shares(solve(free).blend)["HUM"] == pytest.approx(10.0)
    beside = replace(free, stock_limits=(StockLimit("TRIAZONE", 1.0),))
    answer = solve(beside)
    assert isinstance(answer, OutOfReach)
    assert "humic at most 8 % of the blend beside urea triazone" in said(beside, answer.conflict)


def test_strongest_obeys_the_rules():
    question = replace(SUMMER, wishes=(NutrientWish("Fe", 1.0),), strongest="N")
    used = shares(solve(question).blend)
    assert not {"TRIAZONE", "FES"} <= set(used)
    assert solve(question).blend.analysis["N"] >= solve(
        replace(question, strongest=None)
    ).blend.analysis.get("N", 0.0)


TWINS = tuple(replace(UREA, code=code, name=code) for code in ("D", "B", "A", "C"))


def test_among_equal_recipes_the_earlier_code_wins_for_every_order_of_stocks():
    for order in itertools.permutations(TWINS):
        question = BlendProblem((*order, WATER), (NutrientWish("N", 11.5),))
        assert shares(solve(question).blend) == pytest.approx({"A": 50.0, "WATER": 50.0})


def test_among_equal_recipes_the_fewest_stocks_win():
    """One stock that is itself the half-and-half of two others, at the same price."""
    a = stock("A", 10.0, 0.2, {"N.urea": 20.0})
    b = stock("B", 10.0, 0.3, {"K2O": 10.0})
    both = stock("Z", 10.0, 0.25, {"N.urea": 10.0, "K2O": 5.0})
    question = BlendProblem((a, b, both), (NutrientWish("N", 10.0), NutrientWish("K2O", 5.0)))
    assert shares(solve(question).blend) == pytest.approx({"Z": 100.0})
    assert not optimise(question).is_unique


def test_ties_between_choices_are_decided_too():
    question = BlendProblem(
        (*TWINS, WATER), (NutrientWish("N", 11.5),), smallest_charge_pct=5.0, most_stocks=2
    )
    assert shares(solve(question).blend) == pytest.approx({"A": 50.0, "WATER": 50.0})


def test_a_unique_optimum_needs_no_second_pass(monkeypatch):
    def never(*args):
        raise AssertionError("a second pass was made")

    monkeypatch.setattr("formulas.engine.blend.optimise._break_ties", never)
    assert optimise(BlendProblem((UAN32, WATER), (NutrientWish("N", 28.0),))).is_unique
    with pytest.raises(AssertionError, match="second pass"):
        optimise(BlendProblem((*TWINS, WATER), (NutrientWish("N", 11.5),)))
