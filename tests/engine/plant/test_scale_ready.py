"""Weights a plant can weigh, with every guarantee kept to the last digit."""

import sys
from dataclasses import replace

import pytest

from formulas.engine import (
    BadProblem,
    BlendProblem,
    CompatibilityRule,
    Effect,
    EngineFailure,
    Fill,
    NotWeighable,
    NutrientWish,
    Share,
    SlowReleaseWish,
    StockLimit,
    solve,
)
from formulas.engine import scale_ready as weigh
from formulas.engine.blend.evaluate import evaluate
from formulas.engine.density import mass_lb_for
from formulas.wording.weighing import not_weighable_words
from tests.engine.lawn_stocks import HUM, RULES, SUMMER, TRIAZONE, UAN32, UREA, WATER, shares
from tests.engine.said import said

TOTE = Fill(volume_gal=265.0)


def with_steps(step, stocks=SUMMER.stocks):
    return tuple(replace(stock, scale_step_lb=step) for stock in stocks)


def pounds(ready):
    return {weight.code: weight.weight_lb for weight in ready.weights}


@pytest.mark.parametrize("step", [0.5, 1.0, 5.0, 20.0])
def test_every_guarantee_holds_at_whole_steps_within_the_volume(step):
    stocks = with_steps(step)
    blend = solve(SUMMER).blend
    ready = weigh(stocks, blend, TOTE, guarantees=SUMMER)
    assert all(weight.weight_lb == weight.steps * step for weight in ready.weights)
    assert ready.volume_gal == pytest.approx(265.0, rel=0.005)
    assert ready.mass_lb == sum(pounds(ready).values())
    assert ready.blend.analysis["N"] >= 24.0 - 1e-9
    assert 3.0 - 1e-9 <= ready.blend.analysis["K2O"] <= 3.5 + 1e-9
    assert ready.blend.slow_release_pct >= 50.0 - 1e-9


def test_naive_rounding_would_have_dropped_a_guarantee():
    """The reason this module exists: the same recipe rounded to the nearest 5 lb."""
    blend = solve(SUMMER).blend
    mass = mass_lb_for(TOTE, blend.density_lb_per_gal)
    naive = {code: 5 * round(pct / 100 * mass / 5) for code, pct in shares(blend).items()}
    total = sum(naive.values())
    nitrogen = (32 * naive["UAN32"] + 28 * naive["TRIAZONE"]) / total
    slow = 20.16 * naive["TRIAZONE"] / total
    potash = 25 * naive["KTHIO25"] / total
    assert nitrogen < 24.0 or slow / nitrogen < 0.5 or potash < 3.0
    ready = weigh(with_steps(5.0), blend, TOTE, guarantees=SUMMER)
    assert ready.blend.analysis["K2O"] >= 3.0 - 1e-9


def test_the_weights_stay_near_the_recipe():
    blend = solve(SUMMER).blend
    mass = mass_lb_for(TOTE, blend.density_lb_per_gal)
    weights = pounds(weigh(SUMMER.stocks, blend, TOTE, guarantees=SUMMER))
    for code, pct in shares(blend).items():
        assert weights[code] == pytest.approx(pct / 100 * mass, abs=3.0)


def test_a_recipe_of_whole_steps_is_weighed_as_it_is():
    """1,750 lb of UAN 32 and 250 lb of water make a ton of 28 % N exactly."""
    question = BlendProblem((UAN32, WATER), (NutrientWish("N", 28.0),))
    stocks = with_steps(50.0, question.stocks)
    ready = weigh(stocks, solve(question).blend, Fill(mass_lb=2000.0), guarantees=question)
    assert pounds(ready) == {"UAN32": 1750.0, "WATER": 250.0}
    assert ready.mass_lb == 2000.0


def test_a_batch_of_whole_steps_needs_no_tolerance():
    question = BlendProblem((UAN32, WATER), (NutrientWish("N", 28.0),))
    stocks = with_steps(50.0, question.stocks)
    ready = weigh(
        stocks, solve(question).blend, Fill(mass_lb=2000.0), guarantees=question, tolerance_pct=0.0
    )
    assert ready.mass_lb == 2000.0


def test_a_limit_on_a_stock_is_kept_at_whole_steps():
    """30 % of urea in 1,000 lb by steps of 9 lb: 297 lb is nearest to 300 but 29.7 % of 999 lb.

    With 306 lb only 693 lb of water stay within half a percent of 1,000 lb: 30.6 %.
    """
    question = BlendProblem((UREA, WATER), stock_limits=(StockLimit("UREA", 30.0),))
    stocks = with_steps(9.0, question.stocks)
    ready = weigh(stocks, solve(question).blend, Fill(mass_lb=1000.0), guarantees=question)
    assert pounds(ready) == {"UREA": 306.0, "WATER": 693.0}


def test_a_stock_limited_to_a_share_beside_another_is_rounded_below_it():
    """5 % of humic extract in 1,000 lb by steps of 9 lb: 54 lb is nearest but 5.4 % of 1,004."""
    rule = CompatibilityRule(
        "humic", "urea_triazone", Effect.LIMIT, "At most 5 %.", "demo", largest_pct=5.0
    )
    stocks = (replace(HUM, scale_step_lb=9.0), *with_steps(1.0, (TRIAZONE, WATER)))
    recipe = (Share("HUM", 5.0), Share("TRIAZONE", 50.0), Share("WATER", 45.0))
    blend = evaluate(stocks, recipe, ())
    free = weigh(stocks, blend, Fill(mass_lb=1000.0), guarantees={"N": 13.0})
    kept = weigh(stocks, blend, Fill(mass_lb=1000.0), guarantees={"N": 13.0}, rules=(rule,))
    assert (pounds(free)["HUM"], pounds(kept)["HUM"]) == (54.0, 45.0)
    question = BlendProblem(stocks, (NutrientWish("N", 13.0),), rules=(rule,))
    assert pounds(weigh(stocks, blend, Fill(mass_lb=1000.0), guarantees=question)) == pounds(kept)


def test_a_smallest_charge_is_rounded_above_it():
    """5 % of humic extract in 1,000 lb by steps of 12 lb: 48 lb is nearest but below 5 %."""
    stocks = (replace(HUM, scale_step_lb=12.0), *with_steps(1.0, (TRIAZONE, WATER)))
    recipe = (Share("HUM", 5.0), Share("TRIAZONE", 50.0), Share("WATER", 45.0))
    blend = evaluate(stocks, recipe, ())
    free = BlendProblem(stocks, (NutrientWish("N", 13.0),))
    charged = [
        pounds(weigh(stocks, blend, Fill(mass_lb=1000.0), guarantees=question))["HUM"]
        for question in (free, replace(free, smallest_charge_pct=5.0))
    ]
    assert charged == [48.0, 60.0]


def test_a_stock_is_not_limited_beside_itself():
    """An acid phosphate limits other acids to half of it; 20 % beside its own 50 % is fine."""
    rule = CompatibilityRule(
        "acid", "phosphate", Effect.LIMIT, "At most half.", "demo", largest_ratio=0.5
    )
    both = replace(UREA, code="BOTH", traits=frozenset({"acid", "phosphate"}))
    acid = replace(UREA, code="ACID", traits=frozenset({"acid"}))
    stocks = with_steps(10.0, (both, acid, WATER))
    recipe = (Share("BOTH", 50.0), Share("ACID", 20.0), Share("WATER", 30.0))
    blend = evaluate(stocks, recipe, (rule,))
    ready = weigh(stocks, blend, Fill(mass_lb=1000.0), guarantees={"N": 16.0}, rules=(rule,))
    assert pounds(ready) == {"BOTH": 500.0, "ACID": 200.0, "WATER": 300.0}


def test_the_coarsest_scale_is_the_one_named():
    question = BlendProblem((UREA, WATER), (NutrientWish("N", 10.0, 10.05),))
    stocks = (replace(UREA, scale_step_lb=50.0), replace(WATER, scale_step_lb=5.0))
    with pytest.raises(NotWeighable) as reason:
        weigh(stocks, solve(question).blend, Fill(mass_lb=300.0), guarantees=question)
    assert "the coarsest is 50 lb for UREA" in not_weighable_words(reason.value)


def test_a_label_s_minima_can_be_the_guarantees():
    blend = solve(SUMMER).blend
    ready = weigh(SUMMER.stocks, blend, Fill(mass_lb=2000.0), guarantees={"N": 24.0, "K2O": 3.0})
    assert ready.blend.analysis["N"] >= 24.0 - 1e-9
    assert ready.mass_lb == pytest.approx(2000.0, rel=0.005)


def test_steps_that_are_too_coarse_are_said_to_be_and_named():
    question = BlendProblem((UREA, WATER), (NutrientWish("N", 10.0, 10.05),))
    blend = solve(question).blend
    stocks = with_steps(50.0, question.stocks)
    with pytest.raises(NotWeighable, match="No whole scale steps") as reason:
        weigh(stocks, blend, Fill(mass_lb=300.0), guarantees=question)
    assert "N at least 10" in said(question, reason.value.cannot_hold)
    words = not_weighable_words(reason.value)
    assert "too coarse" in words
    assert "50 lb" in words


def test_a_volume_that_no_step_hits_is_named():
    question = BlendProblem((UREA, WATER), (NutrientWish("N", 11.5),))
    stocks = with_steps(100.0, question.stocks)
    with pytest.raises(NotWeighable) as reason:
        weigh(stocks, solve(question).blend, Fill(mass_lb=250.0), guarantees=question)
    assert "the mass 250 within" in not_weighable_words(reason.value)


def test_a_recipe_that_never_held_the_guarantee_is_said_to_be_so():
    question = BlendProblem((UREA, WATER), (NutrientWish("N", 11.5),))
    blend = solve(question).blend
    with pytest.raises(NotWeighable, match="No whole scale steps") as reason:
        weigh(question.stocks, blend, TOTE, guarantees={"N": 24.0})
    assert said(reason.value.problem, reason.value.cannot_hold) == ("N at least 24",)
    assert "any step" in not_weighable_words(reason.value)


def test_rules_and_smallest_charges_hold_after_weighing():
    question = replace(
        SUMMER,
        wishes=(NutrientWish("N", 10.0), NutrientWish("humic_acid", 2.9)),
        slow_release=SlowReleaseWish(50.0),
        smallest_charge_pct=5.0,
    )
    blend = solve(question).blend
    ready = weigh(with_steps(5.0), blend, TOTE, guarantees=question)
    weights = pounds(ready)
    assert weights["HUM"] <= weights["TRIAZONE"]
    assert min(weights.values()) >= 0.05 * ready.mass_lb - 1e-6
    again = weigh(with_steps(5.0), blend, TOTE, guarantees={"N": 10.0}, rules=RULES)
    assert pounds(again)["HUM"] <= pounds(again)["TRIAZONE"]


def test_the_amount_is_checked_from_the_printed_weights(monkeypatch):
    blend = solve(SUMMER).blend
    module = sys.modules["formulas.engine.plant.scale_weights"]
    monkeypatch.setattr(module._Batch, "nearest", lambda self: [1, 1, 1, 1])
    with pytest.raises(EngineFailure):
        weigh(SUMMER.stocks, blend, TOTE, guarantees=SUMMER)


@pytest.mark.parametrize(
    ("extra", "field"),
    [
        ({"guarantees": {"Xy": 1.0}}, "guarantees.Xy"),
        ({"guarantees": {"N": float("nan")}}, "targets.0.min"),
        ({"guarantees": {}, "tolerance_pct": -1.0}, "tolerance_pct"),
        ({"guarantees": {}, "fill": Fill()}, "fill"),
        ({"guarantees": {}, "stocks": (TRIAZONE,)}, "recipe"),
    ],
)
def test_wrong_input_is_refused_with_the_field_named(extra, field):
    arguments = {"stocks": SUMMER.stocks, "blend": solve(SUMMER).blend, "fill": TOTE} | extra
    with pytest.raises(BadProblem) as refusal:
        weigh(arguments.pop("stocks"), arguments.pop("blend"), arguments.pop("fill"), **arguments)
    assert {error.field for error in refusal.value.errors} == {field}
