"""A plan that takes more work than it may ends with the best found, and says so."""

import numpy as np
import pytest

from formulas.engine.allocation.allocating import allocate
from formulas.engine.work.effort import TooLarge, allowed
from tests.engine.allocation.allocation_cases import STOCKS, plant


def planned(units):
    asked, on_hand = plant(np.random.default_rng(3), 24, partial=False)
    with allowed(units):
        return allocate(asked, STOCKS, on_hand)


def test_the_less_work_it_may_take_the_less_is_proved():
    best, searched, ended = planned(1e9), planned(5000), planned(1500)
    assert best.is_exact
    assert not best.is_cut_short
    assert not searched.is_exact
    for plan in (searched, ended):
        assert plan.bound <= best.total <= plan.total
    assert ended.is_cut_short
    assert planned(1500) == ended


def test_a_plan_without_even_a_first_program_is_too_large():
    with pytest.raises(TooLarge):
        planned(200)
