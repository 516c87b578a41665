"""What an incurable tank can honestly be sold as."""

import math
from dataclasses import replace
from decimal import Decimal

import pytest
from hypothesis import assume, given

from formulas.engine import (
    NutrientWish,
    SlowReleaseWish,
)
from formulas.engine.plant.correction import CannotCorrect, InTank, OnHand, Promise, correct
from formulas.wording.corrections import cannot_correct_words
from tests.engine.lawn_stocks import (
    FEDTA,
    HUM,
    KACE,
    TRIAZONE,
    UAN32,
    WATER,
)
from tests.engine.plant.correction_cases import SHELF, SUMMER, keeps, small_tanks, tank, totals
from tests.engine.said import said


def test_an_overweight_charge_that_nothing_thins_leaves_the_grade_that_is_there():
    # 12 lb of 24 % K2O too many: more than the wished maximum, and no water on hand.
    charges = [InTank(KACE, 300), InTank(WATER, 700)]
    answer = correct(charges, [], Promise((NutrientWish("K2O", 6.0, 6.5),)))
    assert answer.best.grade == "0-0-6"
    assert said(answer.problem, answer.best.above) == ("K2O at most 6.5",)
    assert answer.best.tank.additions == ()
    assert "outside K2O at most 6.5" in cannot_correct_words(answer)


@pytest.mark.parametrize(
    ("kind", "jurisdiction", "grade"),
    [
        ("specialty", None, "23.4-0-0"),
        ("commercial", None, "23-0-0"),
        ("specialty", "WI", "23-0-0"),
    ],
)
def test_the_best_grade_is_rounded_down_as_its_state_prints_it(kind, jurisdiction, grade):
    charges = [InTank(UAN32, 733), InTank(WATER, 267)]  # 23.456 % N
    answer = correct(
        charges, [], Promise((NutrientWish("N", 24.0),)), kind=kind, jurisdiction=jurisdiction
    )
    assert answer.best.grade == grade
    assert answer.best.guarantees == {"N": Decimal(grade.split("-")[0])}


def test_the_best_grade_gives_the_first_nutrients_first():
    # Room for 100 lb only. Nitrogen comes first: it takes 92 lb of UAN to bring back 24 %.
    charges = [InTank(UAN32, 700), InTank(KACE, 90), InTank(WATER, 210)]
    promise = Promise((NutrientWish("N", 24.0), NutrientWish("K2O", 3.0)), most_lb=1100.0)
    answer = correct(charges, [OnHand(UAN32, 500), OnHand(KACE, 500)], promise)
    lb = 1000.0 * (0.24 - 0.224) / (0.32 - 0.24)
    assert lb > 100
    assert answer.best.guarantees["N"] == Decimal("23.2")
    best = max(
        (
            tuple(
                math.floor(10 * pct + 1e-9) / 10
                for pct in (
                    32.0 * (700 + u) / (1000 + u + k),
                    24.0 * (90 + k) / (1000 + u + k),
                )
            )
            for u in range(101)
            for k in range(101 - u)
        ),
        key=lambda pair: (min(pair[0], 24.0), min(pair[1], 3.0)),
    )
    assert tuple(float(answer.best.guarantees[key]) for key in ("N", "K2O")) == best


def test_a_micronutrient_below_its_label_minimum_is_not_guaranteed_at_all():
    charges = [InTank(FEDTA, 20), InTank(UAN32, 980)]  # 0.09 % Fe, minimum 0.1 %
    answer = correct(charges, [], Promise((NutrientWish("N", 24.0), NutrientWish("Fe", 0.2))))
    assert set(answer.best.guarantees) == {"N"}


def test_a_slow_share_is_claimed_in_whole_percents_from_fifteen_upward():
    promise = Promise((NutrientWish("N", 20.0),), SlowReleaseWish(50.0))
    fifth = correct([InTank(TRIAZONE, 300), InTank(UAN32, 700)], [], promise)
    # 60.48 of 308 parts of N is 19.6 %.
    assert fifth.best.slow_release_pct == Decimal(19)
    little = correct([InTank(TRIAZONE, 200), InTank(UAN32, 800)], [], promise)
    assert little.best.slow_release_pct is None  # 40.32 of 312 is 12.9 %
    assert "slowly available" not in cannot_correct_words(little)


def test_forms_and_other_ingredients_are_rounded_down_too():
    charges = [InTank(HUM, 100), InTank(UAN32, 900)]
    wished = (NutrientWish("N.nitrate", 8.0), NutrientWish("humic_acid", 1.5))
    answer = correct(charges, [], Promise(wished))
    assert answer.best.guarantees == {
        "N.nitrate": Decimal("7.2"),
        "humic_acid": Decimal("1.2"),
    }


def test_a_tank_beyond_its_mark_is_what_it_is():
    done = correct(tank(), SHELF, replace(SUMMER, most_gal=100.0))
    assert done.additions == ()
    answer = correct(tank(UAN32=500), SHELF, replace(SUMMER, most_gal=100.0))
    assert "0.0 gal left" in cannot_correct_words(answer)
    assert answer.best.tank.additions == ()


@given(small_tanks())
def test_the_best_grade_of_a_tank_is_really_in_it(question):
    charges, shelf, promise = question
    answer = correct(charges, shelf, promise)
    assume(isinstance(answer, CannotCorrect) and answer.best is not None)
    mixture = totals(charges, answer.best.tank, shelf)
    held = Promise(
        tuple(NutrientWish(key, float(pct)) for key, pct in answer.best.guarantees.items()),
        most_gal=None,
    )
    assert keeps(mixture, held, slack=1e-5)
    for wish in promise.wishes:
        if wish.nutrient in answer.best.guarantees:
            assert float(answer.best.guarantees[wish.nutrient]) <= wish.min_pct + 1e-5
