"""A tank that cannot be corrected: the plant is told why not."""

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
from formulas.engine.plant.correction import (
    CannotCorrect,
    Corrected,
    InTank,
    OnHand,
    Promise,
    correct,
)
from formulas.engine.plant.correction_program import Steps
from formulas.engine.result import EngineFailure
from formulas.wording.corrections import cannot_correct_words
from tests.engine.lawn_stocks import (
    FES,
    HUM,
    IRON_RULE,
    KACE,
    KTHIO25,
    UAN32,
    WATER,
)
from tests.engine.plant.correction_cases import SHELF, SUMMER, tank
from tests.engine.said import said


def test_a_rule_broken_in_the_tank_cannot_be_mended():
    charges = [*tank(), InTank(FES, 10)]
    answer = correct(charges, SHELF, SUMMER)
    assert isinstance(answer, CannotCorrect)
    assert answer.best is None
    assert "hold the batch" in cannot_correct_words(answer)
    assert answer.reason.broken_rules == (IRON_RULE,)


def test_a_tank_without_room_says_how_much_it_takes():
    answer = correct(tank(UAN32=660), SHELF, replace(SUMMER, most_gal=240.0))
    assert isinstance(answer, CannotCorrect)
    (room,) = answer.reason.no_room
    assert (room.most, room.unit) == (240.0, "gal")
    assert "no room" in cannot_correct_words(answer)
    # 660 lb UAN, 1,429 triazone, 288 KTHIO25 and 133 water fill 232.8 gal.
    assert "7.2 gal left" in cannot_correct_words(answer)


def test_a_limit_in_pounds_is_room_as_well():
    answer = correct(tank(WATER=160), SHELF, replace(SUMMER, most_gal=None, most_lb=2500.0))
    (room,) = answer.reason.no_room
    assert (room.most, room.unit) == (2500.0, "lb")


def test_a_short_shelf_says_what_is_missing():
    answer = correct(tank(UAN32=500), [OnHand(UAN32, 10.0)], SUMMER)
    assert [short.code for short in answer.reason.too_little] == ["UAN32"]
    full = correct(tank(UAN32=500), [OnHand(UAN32, 500.0)], SUMMER)
    needed = full.additions[0].weight_lb
    assert f"{needed - 10:g} lb more" in cannot_correct_words(answer)


def test_no_room_and_a_short_shelf_are_both_told():
    slow = correct(
        [InTank(KACE, 100), InTank(WATER, 900)],
        [OnHand(KACE, 1.0)],
        Promise((NutrientWish("K2O", 10.0),), most_lb=1001.0),
    )
    assert [room.most for room in slow.reason.no_room] == [1001.0]
    assert [short.code for short in slow.reason.too_little] == ["KACE"]


def test_coarse_scales_are_named():
    stones = Stock("STONES", "Coarse potash", 12.0, 0.5, {"K2O": 25.0}, scale_step_lb=500.0)
    answer = correct(
        [InTank(KACE, 100), InTank(WATER, 900)],
        [OnHand(stones, 5000)],
        Promise((NutrientWish("K2O", 3.0, 3.2),)),
    )
    assert answer.reason.coarsest == stones


def test_a_promise_that_nothing_brings_back_is_named():
    answer = correct(tank(UAN32=500), [OnHand(WATER, 500.0)], SUMMER)
    assert "N at least 24" in said(answer.problem, answer.reason.limits)
    assert "cannot be taken out" in cannot_correct_words(answer)
    assert isinstance(answer.best.tank, Corrected)


def test_a_broken_limit_of_a_stock_without_any_promise_is_named():
    answer = correct([InTank(HUM, 500), InTank(WATER, 500)], [], Promise())
    assert said(answer.problem, answer.reason.limits) == (
        "HUM at most 40 % (the stock's own limit)",
    )
    assert answer.best is None
    assert "cannot be sold as any grade" in cannot_correct_words(answer)


@pytest.mark.parametrize(
    ("steps", "said"),
    [
        ([0, 0], "do not keep .*K2O"),
        ([-1, 0], "negative"),
        ([600, 0], "more than what is on hand"),
        ([450, 450], "do not fit"),
        ([100, 1], "break a compatibility rule"),
    ],
)
def test_a_wrong_answer_of_the_solver_is_never_weighed(steps, said, monkeypatch):
    apart = CompatibilityRule("thiosulfate", "water", Effect.BLOCKS, "Why.", "demo")
    charges = [InTank(KACE, 100), InTank(WATER, 200 if steps[0] >= 0 else 0)]
    promise = Promise((NutrientWish("K2O", 12.0),), rules=(apart,), most_lb=800.0)
    monkeypatch.setattr(
        "formulas.engine.plant.correction_tank.least_steps",
        lambda *_: Steps(np.array(steps, dtype=float)),
    )
    with pytest.raises(EngineFailure, match=said):
        correct(charges, [OnHand(KACE, 500), OnHand(KTHIO25, 500)], promise)


@pytest.mark.parametrize(
    ("charges", "shelf", "promise", "field"),
    [
        ([], [], Promise(), "tank"),
        ([InTank(KACE, 0.0)], [], Promise(), "tank"),
        ([InTank(KACE, -1.0)], [], Promise(), "tank.0.weight_lb"),
        ([InTank(KACE, 1.0)], [OnHand(UAN32, math.nan)], Promise(), "on_hand.0.weight_lb"),
        ([InTank(KACE, 1.0)], [OnHand(UAN32, 1.0)] * 2, Promise(), "on_hand"),
        (
            [InTank(replace(KACE, density_lb_per_gal=0.0), 1.0)],
            [],
            Promise(),
            "tank.0.stock.density_lb_per_gal",
        ),
        ([InTank(KACE, 1.0)], [], Promise(most_gal=0.0), "most_gal"),
        ([InTank(KACE, 1.0)], [], Promise(most_lb=math.inf), "most_lb"),
        ([InTank(KACE, 1.0)], [], Promise((NutrientWish("gold", 1.0),)), "targets.0.nutrient"),
    ],
)
def test_a_wrong_question_is_refused_by_field(charges, shelf, promise, field):
    with pytest.raises(BadProblem) as refused:
        correct(charges, shelf, promise)
    assert field in [error.field for error in refused.value.errors]
