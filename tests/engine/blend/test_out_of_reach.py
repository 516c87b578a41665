"""When a wish cannot be met: why, how far each wish could go, and what instead."""

from dataclasses import replace

import pytest

from formulas.engine import (
    BlendProblem,
    NutrientWish,
    OutOfReach,
    SlowReleaseWish,
    Solved,
    Stock,
    StockLimit,
    solve,
)
from formulas.engine.wishes import relaxed_problem
from tests.engine.blend.possible import Possible
from tests.engine.blend.problem_catalogue import IMPOSSIBLE
from tests.engine.lawn_stocks import FES, HUM, RULES, SUMMER, TRIAZONE, UAN32, UREA, WATER, shares
from tests.engine.said import moves_by_words, reach_by_words, said

STRONG = replace(SUMMER, wishes=(NutrientWish("N", 28.0), NutrientWish("K2O", 5.0)))
IRON = replace(
    SUMMER,
    wishes=(NutrientWish("N", 24.0), NutrientWish("Fe", 0.1)),
    exclude=frozenset({"FEDTA"}),
)
FEW = replace(SUMMER, wishes=(NutrientWish("N", 24), NutrientWish("K2O", 3, 3.5)), most_stocks=1)
CHARGE = BlendProblem((UREA, WATER), (NutrientWish("N", 0.5, 1.0),), smallest_charge_pct=10.0)
USERS_LIMIT = replace(SUMMER, stock_limits=(StockLimit("HUM", 30.0),))
#: 10 % N of urea at 23 % needs 43.5 % of it; only the limit on urea is in the way.
ONE_LIMIT_OF_THREE = BlendProblem(
    (UREA, HUM, WATER),
    (NutrientWish("N", 10.0),),
    stock_limits=(
        StockLimit("WATER", 5.0, 90.0),
        StockLimit("UREA", None, 30.0),
        StockLimit("HUM", 1.0),
    ),
)
#: Ceilings of 20, 30 and 40 % fill 90 % of the tank, so all three are in the way and the floor
#: under urea is not.
THREE_CEILINGS = BlendProblem(
    (UAN32, UREA, WATER),
    stock_limits=(
        StockLimit("UAN32", None, 20.0),
        StockLimit("UREA", 5.0, 30.0),
        StockLimit("WATER", None, 40.0),
    ),
)
ALL = {
    **IMPOSSIBLE,
    "strong": STRONG,
    "iron": IRON,
    "few": FEW,
    "charge": CHARGE,
    "users limit": USERS_LIMIT,
    "one limit of three": ONE_LIMIT_OF_THREE,
    "three ceilings": THREE_CEILINGS,
}


@pytest.mark.parametrize("name", ALL)
def test_the_conflict_is_impossible_and_irreducible(name):
    problem = ALL[name]
    answer = solve(problem)
    assert isinstance(answer, OutOfReach)
    assert answer.conflict
    possible = Possible(problem)
    conflict = possible.named(answer.conflict)
    assert not possible(conflict)
    for wish in conflict:
        assert possible([other for other in conflict if other is not wish])


@pytest.mark.parametrize("name", ALL)
def test_each_reach_can_be_had_and_no_more(name):
    problem = ALL[name]
    possible = Possible(problem)
    for reach in solve(problem).reach:
        (wish,) = possible.named([reach.wish])
        if reach.best is None:
            # Nothing helps: even giving the wish up altogether leaves the rest impossible.
            given_up = relaxed_problem(problem, [(wish.id, 0.0 if wish.at_least else 100.0)])
            assert isinstance(solve(given_up, explain=False), OutOfReach)
            continue
        at_best = relaxed_problem(problem, [(wish.id, reach.best)])
        assert isinstance(solve(at_best, explain=False), Solved)
        beyond = reach.best + 0.1 if wish.at_least else reach.best - 0.1
        if 0 <= beyond <= 100 and wish.kind.value != "most_stocks":
            further = relaxed_problem(problem, [(wish.id, beyond)])
            assert isinstance(solve(further, explain=False), OutOfReach)


@pytest.mark.parametrize("name", ALL)
def test_each_alternative_is_a_verified_blend_of_the_relaxed_question(name):
    problem = ALL[name]
    possible = Possible(problem)
    answer = solve(problem)
    for alternative in answer.alternatives:
        moves = [(possible.named([move.wish])[0], move.to) for move in alternative.relaxed]
        assert moves
        for wish, to in moves:
            assert wish.is_soft
            assert to < wish.asked if wish.at_least else to > wish.asked
        again = solve(
            relaxed_problem(problem, [(wish.id, to) for wish, to in moves]), explain=False
        )
        assert shares(again.blend) == pytest.approx(shares(alternative.blend))


def test_the_rep_reads_what_conflicts_how_far_and_what_instead():
    answer = solve(STRONG)
    assert said(STRONG, answer.conflict) == ("N at least 28", "K2O at least 5")
    reach = {
        words: (entry.asked, entry.best) for words, entry in reach_by_words(STRONG, answer).items()
    }
    # By hand: triazone and UAN 32 fill what the potassium thiosulfate (25 % K2O) leaves.
    # N is strongest with slow release exactly at 50 %: 20.16 t = 0.5 (28 t + 32 u).
    room = 1 - 5 / 25
    u = (20.16 - 14.0) / 16.0
    n_of_mix = (28 + 32 * u) / (1 + u)
    assert reach["N at least 28"] == (28.0, pytest.approx(room * n_of_mix, abs=1e-4))
    assert reach["slow release at least 50 % of N"] == (50.0, None)
    n, k2o = answer.alternatives
    assert moves_by_words(STRONG, n) == {"N at least 28": 23.2}
    assert moves_by_words(STRONG, k2o) == {"K2O at least 5": 0.95}


def test_the_alternative_that_gives_up_least_comes_first():
    answer = solve(STRONG)
    lost = [
        max(
            abs(move.to - entry.asked) / entry.asked
            for move in alternative.relaxed
            for entry in answer.reach
            if entry.wish == move.wish
        )
        for alternative in answer.alternatives
    ]
    assert lost == sorted(lost)


def test_the_iron_rule_is_named_as_a_sentence_and_never_given_up():
    answer = solve(IRON)
    conflict = said(IRON, answer.conflict)
    assert "urea triazone and unchelated iron must not meet" in conflict
    assert "FEDTA left out" in conflict
    assert answer.alternatives
    for alternative in answer.alternatives:
        used = shares(alternative.blend)
        assert not {"TRIAZONE", "FES"} <= set(used)
        assert "FEDTA" not in used


def test_too_few_stocks_is_a_wish_like_any_other():
    answer = solve(FEW)
    assert "at most 1 stock" in said(FEW, answer.conflict)
    assert reach_by_words(FEW, answer)["at most 1 stock"].best == 2.0
    assert any(
        moves_by_words(FEW, alternative) == {"at most 1 stock": 2.0}
        for alternative in answer.alternatives
    )


def test_a_smallest_charge_can_be_in_the_way():
    assert set(said(CHARGE, solve(CHARGE).conflict)) == {
        "N at least 0.5",
        "N at most 1",
        "each stock at least 10 % or not at all",
    }


def test_a_stocks_own_limit_is_named_and_never_given_up():
    problem = BlendProblem((HUM, WATER), (NutrientWish("humic_acid", 6.0),))
    answer = solve(problem)
    assert set(said(problem, answer.conflict)) == {
        "humic_acid at least 6",
        "HUM at most 40 % (the stock's own limit)",
    }
    (alternative,) = answer.alternatives
    assert moves_by_words(problem, alternative) == {"humic_acid at least 6": 4.8}
    assert shares(alternative.blend)["HUM"] == pytest.approx(40.0)


@pytest.mark.parametrize(
    ("problem", "conflict"),
    [
        (ONE_LIMIT_OF_THREE, {"N at least 10", "UREA at most 30 %"}),
        (THREE_CEILINGS, {"UAN32 at most 20 %", "UREA at most 30 %", "WATER at most 40 %"}),
    ],
)
def test_only_the_stock_limits_that_are_in_the_way_are_named(problem, conflict):
    assert set(said(problem, solve(problem).conflict)) == conflict


def test_an_own_limit_out_of_play_is_not_mentioned():
    problem = BlendProblem((HUM, UREA, WATER), (NutrientWish("N", 24.0),))
    assert said(problem, solve(problem).conflict) == ("N at least 24",)


def test_when_no_single_wish_suffices_several_give_way_together():
    problem = BlendProblem(
        (UAN32, TRIAZONE, WATER), (NutrientWish("N", 40.0), NutrientWish("K2O", 5.0))
    )
    answer = solve(problem)
    assert all(entry.best is None for entry in answer.reach)
    assert answer.alternatives
    for alternative in answer.alternatives:
        assert set(moves_by_words(problem, alternative)) == {"N at least 40", "K2O at least 5"}
    first = moves_by_words(problem, answer.alternatives[0])
    assert first == {"N at least 40": 32.0, "K2O at least 5": 0.0}


def test_the_reach_of_a_slow_release_share_is_the_best_ratio():
    problem = BlendProblem(
        (UAN32, TRIAZONE, WATER), (NutrientWish("N", 30.0),), SlowReleaseWish(50.0)
    )
    reach = {words: x.best for words, x in reach_by_words(problem, solve(problem)).items()}
    # 30 % N from t of triazone and 1 - t of UAN 32: t = 0.5, slow 10.08 of 30.
    assert reach["slow release at least 50 % of N"] == pytest.approx(33.6, abs=1e-3)


def test_the_reach_of_a_maximum_is_the_lowest_that_can_be_had():
    problem = BlendProblem(
        (UREA, WATER), (NutrientWish("N", 10.0), NutrientWish("N.urea", None, 9))
    )
    reach = {words: x.best for words, x in reach_by_words(problem, solve(problem)).items()}
    assert reach == {"N at least 10": 9.0, "N.urea at most 9": 10.0}


def test_without_explaining_an_out_of_reach_answer_carries_no_reasons():
    assert solve(STRONG, explain=False) == OutOfReach((), (), ())


def test_a_trace_nutrient_is_relaxed_to_its_own_precision():
    problem = BlendProblem(
        (replace(UREA, analysis={"N.urea": 23.0, "Zn": 0.04}), WATER),
        (NutrientWish("Zn", 0.05),),
    )
    (alternative,) = solve(problem).alternatives
    assert moves_by_words(problem, alternative) == {"Zn at least 0.05": 0.04}


def test_a_reach_obeys_the_rules_even_where_the_numbers_alone_conflict():
    """N from triazone alone would reach 28 %; the only iron must not meet triazone."""
    problem = BlendProblem(
        (TRIAZONE, UREA, replace(FES, analysis={"Fe": 5.0}), WATER),
        (NutrientWish("N", 28.5), NutrientWish("Fe", 0.1)),
        rules=RULES,
    )
    reach = {words: x.best for words, x in reach_by_words(problem, solve(problem)).items()}
    assert reach["N at least 28.5"] == pytest.approx(0.98 * 23.0)


def test_a_users_stock_limit_gives_way_with_the_others_when_none_suffices():
    """HUM may be 40 % at most, and no stock holds 40 % N: neither wish alone is enough."""
    problem = BlendProblem(
        (HUM, UREA, WATER),
        (NutrientWish("N", 40.0),),
        stock_limits=(StockLimit("HUM", 60.0),),
    )
    answer = solve(problem)
    assert all(entry.best is None for entry in answer.reach)
    evenly = moves_by_words(problem, answer.alternatives[-1])
    assert set(evenly) == {"N at least 40", "HUM at least 60 %"}
    # Evenly: both wishes keep the same share of what was asked, h = 60 (1 - t), n = 40 (1 - t)
    # with 23 n in what humic leaves: 23 (1 - 0.6 k) = 40 k, so k = 23 / 53.8.
    k = 23 / 53.8
    assert evenly["N at least 40"] == pytest.approx(40 * k, abs=0.11)
    assert evenly["HUM at least 60 %"] == pytest.approx(60 * k, abs=0.11)
    assert shares(answer.alternatives[-1].blend)["HUM"] <= 40.0


def test_wishes_that_are_all_facts_leave_nothing_to_give_up():
    problem = BlendProblem((replace(UREA, max_pct=40.0), replace(WATER, max_pct=50.0)))
    answer = solve(problem)
    assert answer.reach == ()
    assert answer.alternatives == ()


def test_when_the_numbers_alone_are_best_by_breaking_a_rule_the_reach_keeps_it():
    """As numbers the reach of iron is 1.2 %, beside triazone; the chelate gives 0.9 %."""
    problem = BlendProblem(
        (
            TRIAZONE,
            replace(FES, analysis={"Fe": 6.0}),
            replace(FES, code="FEDTA", traits=frozenset(), analysis={"Fe": 4.5}),
        ),
        (NutrientWish("N", 22.4), NutrientWish("Fe", 2.0)),
        rules=RULES,
    )
    reach = {words: x.best for words, x in reach_by_words(problem, solve(problem)).items()}
    assert reach["Fe at least 2"] == pytest.approx(0.9, abs=1e-5)


def test_each_of_four_wishes_in_each_others_way_has_an_alternative_of_its_own():
    # Pure carriers of 40 %: 12 % each takes 4 x 30 % of the tank, so one of them is left 4 %.
    keys = ("N", "P2O5", "K2O", "S")
    held = ({"N.urea": 40.0}, {"P2O5": 40.0}, {"K2O": 40.0}, {"S": 40.0})
    stocks = tuple(
        Stock(f"C{at}", f"carrier {at}", 10.0, 0.1, holds) for at, holds in enumerate(held)
    )
    answer = solve(BlendProblem(stocks, tuple(NutrientWish(key, 12.0) for key in keys)))
    assert isinstance(answer, OutOfReach)
    given = [
        (relaxed.wish.key, relaxed.to) for each in answer.alternatives for relaxed in each.relaxed
    ]
    assert sorted(given) == sorted((key, 4.0) for key in keys)
