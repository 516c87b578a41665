"""Branching on broken rules gives what the general search over yes/no columns gives."""

from dataclasses import replace

import pytest
from hypothesis import given

from formulas.engine import NutrientWish, Solved, solve
from formulas.engine.blend import branch_and_bound as search_module
from formulas.engine.blend.branch_and_bound import ChoiceSearch, SearchTooLarge
from formulas.engine.blend.choices import with_choices
from formulas.engine.blend.linear_program import linear_model
from formulas.engine.blend.optimise import _by_general_search
from formulas.engine.wishes import Side, WishId, WishKind
from tests.engine.blend import strategies
from tests.engine.lawn_stocks import SUMMER, shares


@given(strategies.problems())
def test_both_roads_find_the_same_least_cost(problem):
    plain = linear_model(problem)
    branching = ChoiceSearch(problem, plain)
    found = branching.best(problem, branching.model.limits(), plain.cost)
    general = _by_general_search(problem, with_choices(plain, problem))
    assert (found is None) == (general is None)
    if found is not None:
        assert found.objective == pytest.approx(float(plain.cost @ general.x), abs=1e-7)


@given(strategies.problems(reachable=False))
def test_both_roads_agree_on_what_is_out_of_reach(problem):
    plain = linear_model(problem)
    branching = ChoiceSearch(problem, plain)
    found = branching.best(problem, branching.model.limits(), plain.cost)
    general = _by_general_search(problem, with_choices(plain, problem))
    assert (found is None) == (general is None)


def test_a_search_that_grows_too_large_gives_way_to_the_general_one(monkeypatch):
    problem = replace(SUMMER, wishes=(*SUMMER.wishes, NutrientWish("Fe", 0.1)), most_stocks=4)
    usual = solve(problem)
    strongest = solve(replace(problem, strongest="N"))
    monkeypatch.setattr(search_module, "_MOST_NODES", 1)
    plain = linear_model(problem)
    branching = ChoiceSearch(problem, plain)
    with pytest.raises(SearchTooLarge):
        branching.best(problem, branching.model.limits(), plain.cost)
    general = solve(problem)
    assert isinstance(general, Solved)
    assert shares(general.blend) == pytest.approx(shares(usual.blend), abs=1e-6)
    general = solve(replace(problem, strongest="N"))
    assert general.blend.analysis["N"] == pytest.approx(strongest.blend.analysis["N"], abs=1e-6)
    explained = solve(replace(problem, most_stocks=1))
    assert WishId(WishKind.MOST_STOCKS, Side.MOST) in explained.conflict
