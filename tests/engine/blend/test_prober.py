"""Recipes that were found once spare searches and never change what is found."""

from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given, settings

from formulas.engine import Solved, solve
from formulas.engine.blend.branch_and_bound import ChoiceSearch
from formulas.engine.blend.choices import with_choices
from formulas.engine.blend.explain import explain_out_of_reach
from formulas.engine.blend.highs import Session
from formulas.engine.blend.linear_program import linear_model
from formulas.engine.blend.optimise import optimise
from formulas.engine.blend.prober import Prober
from formulas.engine.blend.proved import Proved
from tests.engine.blend import strategies
from tests.engine.lawn_stocks import SUMMER


def probers(problem):
    plain = linear_model(problem)
    return Prober(problem, plain, with_choices(plain, problem)), plain


@settings(max_examples=40)
@given(strategies.problems(reachable=False))
def test_a_prober_that_has_seen_recipes_answers_like_a_new_one(problem):
    seen, plain = probers(problem)
    wishes = seen.model.wishes
    for left_out in wishes:
        rest = [wish for wish in wishes if wish is not left_out]
        cost = np.append(plain.cost, np.zeros(len(seen.model.cost) - len(plain.cost)))
        fresh, _ = probers(problem)
        assert seen.is_possible(rest) == fresh.is_possible(rest)
        again, once = seen.best(rest, cost), probers(problem)[0].best(rest, cost)
        assert (again is None) == (once is None)
        if once is not None:
            assert again.objective == pytest.approx(once.objective, abs=1e-7)


def test_a_recipe_that_is_known_spares_the_search(monkeypatch):
    prober, _ = probers(replace(SUMMER, most_stocks=4))
    assert prober.is_possible(prober.model.wishes)

    def search(*_, **__):
        raise AssertionError("It was known already.")

    monkeypatch.setattr(ChoiceSearch, "best", search)
    assert prober.is_possible(prober.model.wishes)
    assert prober.is_possible(prober.model.wishes[1:])


def test_how_far_a_wish_goes_without_the_others_giving_way_is_searched_once(monkeypatch):
    prober, _ = probers(replace(SUMMER, most_stocks=2))
    searched = []
    search = ChoiceSearch.best
    monkeypatch.setattr(
        ChoiceSearch, "best", lambda *args, **how: searched.append(1) or search(*args, **how)
    )
    for wish in prober.model.wishes:
        cost = np.zeros_like(prober.model.cost)
        first = prober.best_without(wish, cost)
        others = [other for other in prober.model.wishes if other is not wish]
        assert (first is not None) == prober.is_possible(others)
        before = len(searched)
        assert prober.best_without(wish, cost) is first
        assert len(searched) == before
    assert searched


def test_the_fewest_stocks_are_counted():
    problem = replace(SUMMER, most_stocks=1)
    prober, _ = probers(problem)
    others = [wish for wish in prober.model.wishes if wish.kind != "most_stocks"]
    fewest = prober.fewest_stocks(others, 1)
    for count in range(1, fewest + 1):
        limited, _ = probers(replace(problem, most_stocks=count))
        assert limited.is_possible(limited.model.wishes) == (count == fewest)


def test_the_recipe_of_the_answer_spares_the_prober_its_program(monkeypatch):
    problem, proved = replace(SUMMER, most_stocks=1), Proved()
    assert optimise(problem, proved=proved) is None
    plain = linear_model(problem)
    prober = Prober(problem, plain, with_choices(plain, problem), proved)

    def run(_):
        raise AssertionError("It was known already.")

    monkeypatch.setattr(Session, "run", run)
    others = [wish for wish in prober.model.wishes if wish.kind != "most_stocks"]
    assert prober.is_possible(others)
    with pytest.raises(AssertionError, match="already"):
        prober.best(others, prober.model.cost)


def test_no_neighbouring_question_is_asked_twice():
    asked = []

    def blend_for(problem):
        asked.append(problem)
        answer = solve(problem, explain=False)
        return answer.blend if isinstance(answer, Solved) else None

    answer = explain_out_of_reach(replace(SUMMER, most_stocks=1), blend_for)
    assert answer.alternatives
    assert all(problem not in asked[:at] for at, problem in enumerate(asked))
