"""Wishes for loads with room, and the check that no weight on target misses anything."""

import numpy as np

from formulas.engine import (
    BlendProblem,
    NutrientWish,
    SlowReleaseWish,
)
from formulas.engine.plant.with_room import broken_for
from tests.engine.lawn_stocks import (
    RULES,
    STOCKS,
    UAN32,
    WATER,
)
from tests.engine.plant.load_draws import draws, misses, scale_faults

SUMMER = BlendProblem(
    STOCKS,
    (NutrientWish("N", 24.0, 25.0), NutrientWish("K2O", 3.0), NutrientWish("Fe", 0.1)),
    SlowReleaseWish(50.0, 60.0),
    rules=RULES,
)
UAN28 = BlendProblem((UAN32, WATER), (NutrientWish("N", 28.0),))


def pounds(planned):
    return {step.code: step.weight_lb for step in planned.steps}


def assert_holds(question, planned, seed=0, count=60):
    rng = np.random.default_rng(seed)
    assert list(scale_faults(question, planned)) == []
    for lb in draws(planned, rng, count):
        assert misses(question, planned, lb) == []
    assert broken_for(question, planned.steps) == ()
