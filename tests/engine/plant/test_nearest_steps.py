"""The nearest whole steps are those that trying all of them finds."""

import itertools

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from formulas.engine.plant import nearest_steps as module
from formulas.engine.plant.nearest_steps import SearchTooLarge, Steps, nearest_steps


def distance_lb(steps, counts):
    return float(np.abs(np.asarray(counts) * steps.step_lb - steps.target_lb).sum())


def keeps(steps, counts):
    held = steps.rows @ np.asarray(counts, dtype=float)
    return bool((held >= steps.low - 1e-9).all() and (held <= steps.high + 1e-9).all())


@st.composite
def small_recipes(draw):
    """Two or three stocks of a few steps each, a guarantee at the recipe and an amount."""
    n = draw(st.integers(2, 3))
    step = np.array([draw(st.sampled_from([0.5, 1.0, 2.0])) for _ in range(n)])
    target = np.array([draw(st.integers(2, 80)) / 10 for _ in range(n)])
    content = np.array([draw(st.integers(0, 30)) for _ in range(n)], dtype=float)
    pct = float(content @ target / target.sum())
    rows = np.array([content - pct, np.ones(n)]) * step
    off = draw(st.sampled_from([0.05, 0.2, 0.5])) * target.sum()
    low, high = target.sum() - off, target.sum() + off
    return Steps(step, target, rows, np.array([0.0, low]), np.array([np.inf, high]))


@settings(max_examples=80)
@given(small_recipes())
def test_they_are_those_of_trying_all(steps):
    tried = itertools.product(range(1, 30), repeat=len(steps.step_lb))
    best = min((distance_lb(steps, k) for k in tried if keeps(steps, k)), default=None)
    found = nearest_steps(steps)
    assert (found is None) == (best is None)
    if found is not None:
        assert keeps(steps, found)
        assert distance_lb(steps, found) == pytest.approx(best, abs=1e-7)


def test_the_programs_find_what_looking_around_does_not(monkeypatch):
    """4 of 8 lb against 5 of 20: whole steps far from the target, which no look around meets."""
    steps = Steps(
        step_lb=np.array([1.0, 1.0]),
        target_lb=np.array([3.3, 9.9]),
        rows=np.array([[3.0, -1.0], [1.0, 1.0]]),
        low=np.array([0.0, 20.0]),
        high=np.array([0.0, 24.0]),
    )
    assert nearest_steps(steps).tolist() == [5.0, 15.0]
    monkeypatch.setattr(module, "MOST_PROGRAMS", 0)
    with pytest.raises(SearchTooLarge) as refused:
        nearest_steps(steps)
    assert refused.value.within_lb == np.inf
