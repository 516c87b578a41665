"""All choices of stocks at once find what each of them alone finds."""

import itertools
from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from formulas.engine import NutrientWish, OutOfReach, solve
from formulas.engine.blend.highs import Session
from formulas.engine.blend.linear_program import linear_model
from formulas.engine.blend.proved import Proved
from formulas.engine.blend.supports import SupportSearch
from formulas.engine.wishes import relaxed_problem
from tests.benchmarks.engine_problems import question
from tests.engine.blend import strategies
from tests.engine.lawn_stocks import SUMMER, shares


def cheapest_one_by_one(model, limits, most):
    """The least cost over every choice of ``most`` stocks, each a program of its own."""
    counted = [i for i, stock in enumerate(model.stocks) if not stock.is_water]
    found = []
    for chosen in itertools.combinations(counted, min(most, len(counted))):
        narrowed = limits.copy()
        out = [i for i in counted if i not in chosen]
        narrowed.col_upper[out] = 0.0
        if (narrowed.col_lower <= narrowed.col_upper).all():
            optimum = Session(model.program(narrowed)).run()
            found += [] if optimum is None else [optimum.objective]
    return min(found, default=None)


@settings(max_examples=60)
@given(strategies.linear_problems(), st.integers(1, 4))
def test_the_cheapest_choice_is_that_of_all_choices_one_by_one(problem, most):
    model = linear_model(problem)
    rays = Proved()
    session = Session(model.program(model.limits()))
    search = SupportSearch(model, session, rays)
    # The limits of one question after the other, so that rays of the first meet the second.
    for wishes in (model.wishes, model.wishes[1:], model.wishes):
        limits = model.limits(wishes)
        expected = cheapest_one_by_one(model, limits, most)
        session.set_cost(model.cost)
        found = search.best(limits, model.cost, most)
        least = min((each.objective for each in found), default=None)
        assert least == (None if expected is None else pytest.approx(expected, abs=1e-7))
        session.set_cost(np.zeros_like(model.cost))
        any_one = search.best(limits, np.zeros_like(model.cost), most, any_will_do=True)
        assert bool(any_one) == (expected is not None)


def test_an_explanation_does_not_ask_again_what_was_proved(monkeypatch):
    """Without rays every choice of stocks is a program in every question."""
    asked = replace(SUMMER, wishes=(*SUMMER.wishes, NutrientWish("Fe", 0.1)), most_stocks=2)
    programs = []
    run = Session.run
    monkeypatch.setattr(Session, "run", lambda self: programs.append(1) or run(self))
    answer = solve(asked)
    assert isinstance(answer, OutOfReach)
    assert answer.alternatives
    with_rays = len(programs)
    programs.clear()
    monkeypatch.setattr(Session, "ray", lambda self: None)
    assert solve(asked) == answer
    assert with_rays < len(programs)


@pytest.mark.parametrize("seed", range(4))
def test_an_alternative_is_the_recipe_that_its_own_question_is_answered_with(seed):
    plain = question(7, seed)
    used = len(solve(plain).blend.shares)
    limited = (replace(plain, most_stocks=most) for most in range(used, 0, -1))
    problem = next(each for each in limited if isinstance(solve(each, explain=False), OutOfReach))
    alternatives = solve(problem).alternatives
    assert alternatives
    for alternative in alternatives:
        moves = [(relaxed.wish, relaxed.to) for relaxed in alternative.relaxed]
        whole = solve(relaxed_problem(problem, moves)).blend
        assert shares(alternative.blend) == pytest.approx(shares(whole), abs=1e-9)
