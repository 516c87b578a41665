"""The lines promised of a first load leave later loads like it what they are."""

import math
from dataclasses import replace

import pytest

from formulas.engine.plant.not_weighable import NotWeighable
from formulas.engine.plant.with_room import plan_with_room
from tests.benchmarks.shipped_wishes import loads_in_reach

QUESTIONS = loads_in_reach(24, seed=7)


def printed(planned):
    """Two decimals, rounded down, as a label prints."""
    return {
        key: math.floor(pct * 100 + 1e-9) / 100
        for key, pct in planned.least_pct.items()
        if pct >= 0.01
    }


@pytest.mark.parametrize("index", range(len(QUESTIONS)))
def test_a_load_weighs_the_same_once_its_own_lines_are_promised(index):
    question = QUESTIONS[index]
    try:
        first = plan_with_room(question)
    except NotWeighable:
        pytest.skip("this wish cannot be weighed on this scale at all")
    later = plan_with_room(replace(question, printed_pct=printed(first)))
    assert later.steps == first.steps


def test_a_line_the_load_would_not_keep_moves_its_weights():
    question = QUESTIONS[0]
    first = plan_with_room(question)
    more = {"N": first.least_pct["N"] + 0.05}
    later = plan_with_room(replace(question, printed_pct=more))
    assert later.least_pct["N"] >= more["N"] - 1e-9
    assert later.steps != first.steps
