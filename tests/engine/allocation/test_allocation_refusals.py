"""A wrong question of an allocation is refused by field, a wrong answer never shown."""

import math
from dataclasses import replace

import numpy as np
import pytest

from formulas.engine import (
    BadProblem,
    CompatibilityRule,
    Effect,
    NutrientWish,
    Stock,
)
from formulas.engine.allocation.allocating import allocate
from formulas.engine.allocation.checks import check
from formulas.engine.result import EngineFailure
from tests.engine.allocation.allocation_cases import GOOD, STOCKS, order


@pytest.mark.parametrize(
    ("use", "said"),
    [
        ([[200.0, 0, 0, 0, 0]], "more of a stock"),
        ([[-1.0, 0, 0, 0, 0]], "more of a stock"),
        ([[90.0, 0, 0, 0, 20.0]], "more than A asks for"),
        ([[10.0, 0, 0, 0, 90.0]], "N is 3.2"),
    ],
)
def test_a_wrong_answer_is_never_shown(use, said):
    asked = order("A", 100.0, {"UAN32": 100.0}, may_change=True, wishes=(NutrientWish("N", 30.0),))
    held = np.full(5, 100.0)
    with pytest.raises(EngineFailure, match=said):
        check(np.array(use), [asked], STOCKS, held, ())


@pytest.mark.parametrize(
    ("asked", "on_hand", "field"),
    [
        ([], {}, "orders"),
        ([GOOD], {"UAN32": -1.0}, "on_hand_lb.UAN32"),
        ([GOOD], {"?": 1.0}, "on_hand_lb.?"),
        ([replace(GOOD, mass_lb=0.0)], {}, "orders.0.mass_lb"),
        ([replace(GOOD, penalty_per_lb=0.1)], {}, "orders.0.penalty_per_lb"),
        ([replace(GOOD, recipe={"UAN32": 90.0})], {}, "orders.0.recipe"),
        ([replace(GOOD, recipe={"UAN32": math.nan})], {}, "orders.0.recipe"),
        ([replace(GOOD, recipe={"?": 100.0})], {}, "orders.0.recipe.?"),
        ([replace(GOOD, recipe={"UAN32": 101.0, "WATER": -1.0})], {}, "orders.0.recipe.WATER"),
        (
            [replace(GOOD, may_change=True, wishes=(NutrientWish("N", 33.0),))],
            {},
            "orders.0.recipe",
        ),
        (
            [replace(GOOD, may_change=True, wishes=(NutrientWish("gold", 33.0),))],
            {},
            "targets.0.nutrient",
        ),
    ],
)
def test_a_wrong_question_is_refused_by_field(asked, on_hand, field):
    with pytest.raises(BadProblem) as refused:
        allocate(asked, STOCKS, on_hand)
    assert field in [error.field for error in refused.value.errors]


def test_an_order_whose_own_recipe_breaks_a_rule_is_not_changed_but_refused():
    apart = CompatibilityRule("nitrate", "water", Effect.BLOCKS, "Why.", "demo")
    asked = replace(GOOD, recipe={"UAN32": 50.0, "WATER": 50.0}, may_change=True)
    with pytest.raises(BadProblem, match="breaks a rule"):
        allocate([asked], STOCKS, {}, (apart,))


def test_prices_and_contents_that_are_not_numbers_are_refused():
    bad = Stock("BAD", "Bad", 9.0, math.nan, {})
    with pytest.raises(BadProblem, match="cost_per_lb"):
        allocate([GOOD], (*STOCKS, bad), {})
