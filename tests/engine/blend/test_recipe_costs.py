"""Many recipes repriced at once give what each gives alone."""

import numpy as np
import pytest

from formulas.engine import BadProblem, evaluate, recipe_costs_per_lb, share_matrix, solve
from tests.engine.lawn_stocks import STOCKS, SUMMER, shares

CODES = [stock.code for stock in STOCKS]
COSTS = np.array([stock.cost_per_lb for stock in STOCKS])


def test_one_matrix_product_equals_evaluating_each_recipe():
    recipes = [shares(solve(SUMMER).blend), {"UREA": 40.0, "WATER": 60.0}]
    costs = recipe_costs_per_lb(share_matrix(recipes, CODES), COSTS)
    assert costs[0] == pytest.approx(solve(SUMMER).blend.cost_per_lb)
    from_evaluate = evaluate(STOCKS, solve(SUMMER).blend.shares).cost_per_lb
    assert costs[0] == pytest.approx(from_evaluate)
    assert costs[1] == pytest.approx(0.4 * 0.16)


def test_several_price_lists_at_once():
    recipes = share_matrix([{"UREA": 100.0}, {"WATER": 100.0}], CODES)
    lists = np.column_stack([COSTS, 2 * COSTS])
    assert recipe_costs_per_lb(recipes, lists) == pytest.approx(np.array([[0.16, 0.32], [0, 0]]))


def test_an_unknown_code_is_named():
    with pytest.raises(BadProblem) as refusal:
        share_matrix([{"UREA": 100.0}, {"NONE": 100.0}], CODES)
    assert [error.field for error in refusal.value.errors] == ["recipes.1.NONE"]


@pytest.mark.parametrize("bad", [np.nan, np.inf])
def test_a_number_that_is_not_finite_is_refused(bad):
    with pytest.raises(BadProblem, match="costs"):
        recipe_costs_per_lb(np.array([[100.0]]), np.array([bad]))
    with pytest.raises(BadProblem, match="recipes"):
        recipe_costs_per_lb(np.array([[bad]]), np.array([1.0]))
