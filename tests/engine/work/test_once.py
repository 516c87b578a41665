"""What is worked out once for a tuple is that tuple's own, and never another's."""

from dataclasses import replace

import numpy as np
import pytest

from formulas.engine import BadProblem, BlendProblem, Solved, solve
from formulas.engine.blend.stock_table import content_table, in_code_order, stock_table
from formulas.engine.work.once import once_per_tuple
from tests.engine.lawn_stocks import UAN32, WATER
from tests.engine.plant.room_cases import UAN28


def test_the_same_tuple_is_worked_on_once_and_an_equal_one_again():
    worked = []
    total = once_per_tuple(lambda values: worked.append(values) or sum(values))
    values = (1, 2, 3)
    assert [total(values), total(values), total(values[::-1])] == [6, 6, 6]
    assert len(worked) == 2


def test_no_tuple_is_taken_for_one_that_is_gone():
    total = once_per_tuple(sum)
    assert [total((n, n)) for n in range(300)] == [2 * n for n in range(300)]


def test_a_changed_stock_is_a_new_catalogue():
    cheap = solve(UAN28).blend.cost_per_lb
    dear = replace(UAN28, stocks=(replace(UAN32, cost_per_lb=1.0), WATER))
    assert solve(dear).blend.cost_per_lb == pytest.approx(0.875)
    assert solve(UAN28).blend.cost_per_lb == cheap


def test_a_wrong_stock_is_refused_each_time_it_is_asked_about():
    wrong = BlendProblem((replace(UAN32, density_lb_per_gal=-1.0), WATER))
    for _ in range(2):
        with pytest.raises(BadProblem, match="Density must be a number above 0"):
            solve(wrong)
    assert isinstance(solve(BlendProblem((UAN32, WATER))), Solved)


def test_arrays_of_a_catalogue_cannot_be_changed_and_follow_its_order():
    stocks = (WATER, UAN32)
    table = stock_table(stocks)
    with pytest.raises(ValueError, match="read-only"):
        table.contents[0, 0] = 1.0
    assert [table.stocks[i].code for i in table.by_code] == ["UAN32", "WATER"]
    assert in_code_order(stocks) is in_code_order(stocks)
    assert np.array_equal(content_table(list(stocks)), content_table(stocks))
