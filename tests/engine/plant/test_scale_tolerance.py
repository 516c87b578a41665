"""Tolerances of scales: the steps of NIST Handbook 44, 2.20, as the reference states them."""

import pytest

from formulas.engine.mark import Mark
from formulas.engine.plant.scale_tolerance import (
    ScaleClass,
    is_within,
    smallest_load_lb,
    tolerance_divisions,
    tolerance_lb,
    tolerance_source,
)


@pytest.mark.parametrize(
    ("divisions", "maintenance", "acceptance"),
    [
        (1, 1, 0.5),
        (500, 1, 0.5),
        (501, 2, 1),
        (2_000, 2, 1),
        (2_001, 3, 1.5),
        (4_000, 3, 1.5),
        (4_001, 5, 2.5),
        (10_000, 5, 2.5),
    ],
)
def test_class_iii_has_the_four_steps_of_the_handbook(divisions, maintenance, acceptance):
    assert tolerance_divisions(divisions, ScaleClass.III) == maintenance
    assert tolerance_divisions(divisions, ScaleClass.III, is_acceptance=True) == acceptance


@pytest.mark.parametrize(
    ("divisions", "maintenance"), [(500, 1), (501, 2), (1_000, 2), (1_001, 3), (10_000, 20)]
)
def test_class_iii_l_gets_one_more_division_for_each_five_hundred(divisions, maintenance):
    assert tolerance_divisions(divisions, ScaleClass.III_L) == maintenance
    assert tolerance_divisions(divisions, ScaleClass.III_L, is_acceptance=True) == maintenance / 2


def test_a_scale_of_five_pound_divisions_is_held_to_what_the_worked_example_says():
    assert tolerance_lb(1_000, 5, ScaleClass.III) == 5
    assert tolerance_lb(5_000, 5, ScaleClass.III) == 10
    assert smallest_load_lb(5, ScaleClass.III) == 100
    assert smallest_load_lb(20, ScaleClass.III_L) == 1_000


def test_a_load_of_exactly_the_last_division_of_a_step_is_in_it_on_a_tenth_pound_scale():
    assert tolerance_lb(50.0, 0.1, ScaleClass.III) == pytest.approx(0.1)
    assert tolerance_lb(50.1, 0.1, ScaleClass.III) == pytest.approx(0.2)


def test_a_reading_off_by_exactly_the_tolerance_is_within_and_a_division_more_is_not():
    assert is_within(50.0, 50.1, 0.1, 0.1)
    assert is_within(50.0, 49.9, 0.1, 0.1)
    assert not is_within(50.0, 50.2, 0.1, 0.1)


@pytest.mark.parametrize("load", [0, -1, float("nan"), float("inf")])
def test_a_load_that_is_none_is_refused(load):
    with pytest.raises(ValueError, match="above zero"):
        tolerance_lb(load, 1, ScaleClass.III)
    with pytest.raises(ValueError, match="above zero"):
        tolerance_lb(100, load, ScaleClass.III)


def test_only_what_was_read_in_its_source_is_marked_so():
    verified = {
        (of_class, is_acceptance)
        for of_class in ScaleClass
        for is_acceptance in (False, True)
        if tolerance_source(of_class, is_acceptance=is_acceptance).mark is Mark.VERIFIED
    }
    assert verified == {(ScaleClass.III, False)}
