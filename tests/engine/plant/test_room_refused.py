"""Where there is less room than wanted, or none: the largest there is, or what is in the way."""

import math
from dataclasses import replace

import numpy as np
import pytest

from formulas.engine import (
    BlendProblem,
    NutrientWish,
    StockLimit,
)
from formulas.engine.plant import room_reasons, with_room
from formulas.engine.plant.load import (
    FineScale,
    Heel,
    LoadQuestion,
    LoadScale,
)
from formulas.engine.plant.load_recipe import LoadRecipe
from formulas.engine.plant.not_weighable import NotWeighable
from formulas.engine.plant.room_search import Asked
from formulas.engine.plant.with_room import plan_if_room, plan_with_room
from formulas.engine.result import Share
from formulas.engine.wishes import Side, WishId, WishKind
from tests.engine.lawn_stocks import (
    FEDTA,
    RULES,
    STOCKS,
    UAN32,
    UREA,
    WATER,
    stock,
)
from tests.engine.plant.room_cases import SUMMER, UAN28, assert_holds, pounds

# Less room than wanted, or none.


def test_a_load_grows_only_where_it_may():
    """100 lb of water too much stand in the tank: the rest has to be more than was asked."""
    heel = Heel(mass_lb=450.0, volume_gal=450.0 / 8.34, analysis={})
    recipe = (Share("UAN32", 95.0), Share("WATER", 5.0))
    question = LoadQuestion(UAN28, 265.0, recipe=recipe, heel=heel, capacity_gal=400.0)
    with pytest.raises(NotWeighable):
        plan_with_room(question)
    grown = replace(question, may_grow=True)
    planned = plan_with_room(grown)
    # 28 parts of UAN 32 to 4 of water, by weight: 450 * 28 / 4 = 3150 lb of it at least.
    assert pounds(planned)["UAN32"] == pytest.approx(3150.0, rel=0.02)
    assert planned.volume_gal > 320.0
    assert_holds(grown, planned)


def test_a_narrow_window_shrinks_the_tolerance():
    problem = replace(SUMMER, wishes=(NutrientWish("N", 24.0, 24.08), *SUMMER.wishes[1:]))
    question = LoadQuestion(problem, 265.0)
    planned = plan_with_room(question)
    assert 0.0 <= planned.tolerance_pct < 0.5
    assert "less_room" in {finding.code for finding in planned.findings}
    assert_holds(question, planned)


def test_the_tolerance_is_the_largest_there_is_room_for():
    """Two stocks, one window: the spread 0.875 * 32 * 2 tau-ish by hand allows about 0.36 %."""
    problem = BlendProblem((UAN32, WATER), (NutrientWish("N", 28.0, 28.05),))
    question = LoadQuestion(problem, 2000.0, scale=LoadScale(0.1))
    planned = plan_with_room(question)
    # N = 32 u / (u + w); both off by tau the other way moves it by 32 * 2 tau * 0.875 * 0.125.
    by_hand = 100 * 0.025 / (32 * 2 * 0.875 * 0.125)
    assert planned.tolerance_pct == pytest.approx(by_hand, abs=0.02)
    assert_holds(question, planned)


def test_equal_limits_are_answered_with_what_can_be_made():
    problem = replace(SUMMER, wishes=(NutrientWish("N", 24.0, 24.0), *SUMMER.wishes[1:]))
    question = LoadQuestion(problem, 265.0)
    with pytest.raises(NotWeighable) as refused:
        plan_with_room(question)
    windows = {window.limit.side: window for window in refused.value.windows}
    up, down = windows[Side.MOST], windows[Side.LEAST]
    assert (up.asked, up.other) == (24.0, 24.0)
    assert down.nearest < 24.0 < up.nearest < 24.2
    wider = replace(problem, wishes=(NutrientWish("N", 24.0, up.nearest), *SUMMER.wishes[1:]))
    assert_holds(replace(question, problem=wider), plan_with_room(replace(question, problem=wider)))
    a_hair_less = (NutrientWish("N", 24.0, up.nearest - 0.02), *SUMMER.wishes[1:])
    with pytest.raises(NotWeighable):
        plan_with_room(replace(question, problem=replace(problem, wishes=a_hair_less)))


def test_the_scale_that_is_too_coarse_is_named():
    problem = BlendProblem(
        (UREA, FEDTA, WATER), (NutrientWish("N", 12.0), NutrientWish("Fe", 0.05, 0.06))
    )
    question = LoadQuestion(problem, 265.0, scale=LoadScale(5.0))
    with pytest.raises(NotWeighable) as refused:
        plan_with_room(question)
    (step,) = [each for each in refused.value.coarse_steps if each.code == "FEDTA"]
    assert step.division_lb == 5.0
    finer = replace(question, scale=LoadScale(5.0, FineScale(step.finer_lb, 100.0)))
    assert pounds(plan_with_room(finer))["FEDTA"] > 0


def test_no_reasons_are_looked_for_where_nobody_reads_them(monkeypatch):
    monkeypatch.setattr(with_room, "reasons", lambda *_: pytest.fail("looked for reasons"))
    problem = replace(SUMMER, wishes=(NutrientWish("N", 24.0, 24.0), *SUMMER.wishes[1:]))
    question = LoadQuestion(problem, 265.0)
    assert plan_if_room(question) is None
    assert plan_if_room(replace(question, printed_pct={"N": 24.0})) is None


def test_others_are_let_in_only_where_the_recipe_has_no_room():
    """A solution of 23 % is 22.9 % by itself; 23.1 % takes a stronger stock beside most of it."""
    recipe = (Share("UREA", 100.0),)
    problem = BlendProblem((UREA, UAN32, WATER), (NutrientWish("N", 22.9, 23.2),))
    kept = plan_with_room(LoadQuestion(problem, 265.0, recipe=recipe))
    assert set(pounds(kept)) == {"UREA"}
    strong = replace(problem, wishes=(NutrientWish("N", 23.1, 24.0),))
    wider = plan_with_room(LoadQuestion(strong, 265.0, recipe=recipe))
    assert {"UREA", "UAN32"} <= set(pounds(wider))
    assert {share.code: share.pct for share in wider.blend.shares}["UREA"] > 75
    assert_holds(LoadQuestion(strong, 265.0, recipe=recipe), wider)


def test_a_trace_of_a_stock_that_cannot_be_weighed_is_left_out():
    """27.99 % of a 28 % stock calls for a pound of water in 2,800: it is not weighed at all."""
    uan = stock("UAN28", 10.67, 0.166, {"N.urea": 14.0, "N.nitrate": 7.0, "N.ammoniacal": 7.0})
    question = LoadQuestion(BlendProblem((uan, WATER), (NutrientWish("N", 27.99),)), 265.0)
    assert set(pounds(plan_with_room(question))) == {"UAN28"}


def test_a_recipe_that_a_rule_forbids_is_refused_by_that_rule():
    recipe = (Share("TRIAZONE", 90.0), Share("FES", 10.0))
    question = LoadQuestion(BlendProblem(STOCKS, rules=RULES), 265.0, recipe=recipe)
    with pytest.raises(NotWeighable) as refused:
        plan_with_room(question)
    assert [limit.kind for limit in refused.value.cannot_hold] == [WishKind.RULE]


def test_a_fixed_share_is_aimed_at():
    problem = replace(SUMMER, stock_limits=(StockLimit("WATER", 3.0, 3.0),))
    planned = plan_with_room(LoadQuestion(problem, 265.0))
    shares = {share.code: share.pct for share in planned.blend.shares}
    assert shares["WATER"] == pytest.approx(3.0, abs=0.05)


def test_what_cannot_be_had_at_all_is_named():
    problem = BlendProblem((UAN32, WATER), (NutrientWish("N", 40.0),))
    with pytest.raises(NotWeighable) as refused:
        plan_with_room(LoadQuestion(problem, 265.0))
    assert refused.value.cannot_hold == (WishId(WishKind.NUTRIENT, Side.LEAST, "N", 0),)


@pytest.mark.parametrize(
    ("correction", "heel_gal", "breaks"), [(1.0, 0.0, True), (1.05, 0.0, False), (1.0, 100.0, True)]
)
def test_limits_broken_at_a_division_a_step_are_named_by_the_pounds_really_charged(
    correction, heel_gal, breaks
):
    """87.55 % of UAN 32 is 28.016 %; a division each costs (4 + 28) lb of a percent.

    So it breaks below 32 / 0.016 = 2000 lb: 185 gal of it are 1966 lb, at 5 % more 2065 lb, and
    100 gal of heel at just 28 % beside them change nothing.
    """
    heel = Heel(1000.0, heel_gal, {"N.urea": 28.0}) if heel_gal else None
    question = LoadQuestion(UAN28, 185.0 + heel_gal, heel=heel, density_correction=correction)
    recipe = LoadRecipe(UAN28.stocks, np.array([87.55, 12.45]))
    asked = Asked(question.volume_gal, math.inf, prints_total=False)
    broken = room_reasons._broken_at(question, recipe, asked)
    assert broken == ((WishId(WishKind.NUTRIENT, Side.LEAST, "N", 0),) if breaks else ())
