"""A wrong question is refused with every wrong field named; nothing is clamped."""

import math
from dataclasses import replace

import pytest
from hypothesis import given
from hypothesis import strategies as st

from formulas.engine import (
    BadProblem,
    BlendProblem,
    Effect,
    Fill,
    NutrientWish,
    OutOfReach,
    SlowReleaseWish,
    StockLimit,
    solve,
    validate,
)
from tests.engine.lawn_stocks import (
    HUMIC_RULE,
    IRON_RULE,
    KTHIO25,
    SUMMER,
    UAN32,
    UREA,
    WATER,
    stock,
)

NAN, INF = math.nan, math.inf


def refused_fields(problem):
    with pytest.raises(BadProblem) as refusal:
        validate(problem)
    assert all(error.message.endswith(".") for error in refusal.value.errors)
    return [error.field for error in refusal.value.errors]


def with_stock(**changes):
    return replace(SUMMER, stocks=(UAN32, WATER, replace(KTHIO25, **changes)), wishes=())


def test_the_usual_question_is_accepted():
    validate(SUMMER)


@pytest.mark.parametrize(
    ("problem", "fields"),
    [
        (BlendProblem(()), ["stocks"]),
        (with_stock(density_lb_per_gal=0.0), ["stocks.2.density_lb_per_gal"]),
        (with_stock(density_lb_per_gal=NAN), ["stocks.2.density_lb_per_gal"]),
        (with_stock(cost_per_lb=-0.01), ["stocks.2.cost_per_lb"]),
        (with_stock(cost_per_lb=NAN), ["stocks.2.cost_per_lb"]),
        (with_stock(cost_per_lb=INF), ["stocks.2.cost_per_lb"]),
        (with_stock(scale_step_lb=0.0), ["stocks.2.scale_step_lb"]),
        (with_stock(code=" "), ["stocks.2.code"]),
        (with_stock(code="UAN32"), ["stocks.0.code", "stocks.2.code"]),
        (with_stock(min_pct=-1.0), ["stocks.2.min_pct"]),
        (with_stock(max_pct=101.0), ["stocks.2.max_pct"]),
        (with_stock(min_pct=60.0, max_pct=50.0), ["stocks.2.min_pct"]),
        (with_stock(analysis={"K2O": -1.0}), ["stocks.2.analysis.K2O"]),
        (with_stock(analysis={"K2O": NAN}), ["stocks.2.analysis.K2O"]),
        (with_stock(analysis={"K2O": 101.0}), ["stocks.2.analysis.K2O"]),
        (with_stock(analysis={"Xy": 1.0}), ["stocks.2.analysis.Xy"]),
        (with_stock(analysis={"N": 28.0}), ["stocks.2.analysis.N"]),
        (with_stock(analysis={"N.urea": 60.0, "K2O": 50.0}), ["stocks.2.analysis"]),
        (replace(SUMMER, wishes=(NutrientWish("Xy", 1.0),)), ["targets.0.nutrient"]),
        (replace(SUMMER, wishes=(NutrientWish("N"),)), ["targets.0"]),
        (replace(SUMMER, wishes=(NutrientWish("N", -1.0),)), ["targets.0.min"]),
        (replace(SUMMER, wishes=(NutrientWish("N", 1.0, NAN),)), ["targets.0.max"]),
        (replace(SUMMER, wishes=(NutrientWish("N", 101.0),)), ["targets.0.min"]),
        (
            replace(SUMMER, wishes=(NutrientWish("N", 1), NutrientWish("K2O", 4.0, 3.0))),
            ["targets.1.min"],
        ),
        (replace(SUMMER, slow_release=SlowReleaseWish()), ["slow_release_pct"]),
        (replace(SUMMER, slow_release=SlowReleaseWish(NAN)), ["slow_release_pct.min"]),
        (replace(SUMMER, slow_release=SlowReleaseWish(0, 120.0)), ["slow_release_pct.max"]),
        (replace(SUMMER, slow_release=SlowReleaseWish(60, 50)), ["slow_release_pct.min"]),
        (replace(SUMMER, stock_limits=(StockLimit("NONE", 1.0),)), ["stock_limits.0.code"]),
        (replace(SUMMER, stock_limits=(StockLimit("HUM"),)), ["stock_limits.0"]),
        (replace(SUMMER, stock_limits=(StockLimit("HUM", -1.0),)), ["stock_limits.0.min_pct"]),
        (replace(SUMMER, stock_limits=(StockLimit("HUM", 5, 2),)), ["stock_limits.0.min_pct"]),
        (replace(SUMMER, stock_limits=(StockLimit("HUM", 5, INF),)), ["stock_limits.0.max_pct"]),
        (replace(SUMMER, exclude=frozenset({"NONE"})), ["exclude"]),
        (replace(SUMMER, smallest_charge_pct=-1.0), ["smallest_charge_pct"]),
        (replace(SUMMER, smallest_charge_pct=NAN), ["smallest_charge_pct"]),
        (replace(SUMMER, most_stocks=0), ["most_stocks"]),
        (replace(SUMMER, most_stocks=2.5), ["most_stocks"]),
        (replace(SUMMER, most_stocks=NAN), ["most_stocks"]),
        (replace(SUMMER, strongest="Xy"), ["objective.strongest"]),
        (replace(SUMMER, fill=Fill()), ["fill"]),
        (replace(SUMMER, fill=Fill(10.0, 10.0)), ["fill"]),
        (replace(SUMMER, fill=Fill(volume_gal=0.0)), ["fill.volume_gal"]),
        (replace(SUMMER, fill=Fill(mass_lb=-5.0)), ["fill.mass_lb"]),
        (replace(SUMMER, fill=Fill(mass_lb=NAN)), ["fill.mass_lb"]),
        (replace(SUMMER, rules=(replace(IRON_RULE, trait_a=""),)), ["rules.0"]),
        (
            replace(SUMMER, rules=(replace(IRON_RULE, effect=Effect.LIMIT),)),
            ["rules.0.largest_pct"],
        ),
        (replace(SUMMER, rules=(replace(IRON_RULE, largest_pct=5.0),)), ["rules.0.largest_pct"]),
        (
            replace(SUMMER, rules=(replace(HUMIC_RULE, largest_ratio=NAN),)),
            ["rules.0.largest_ratio"],
        ),
        (
            replace(SUMMER, rules=(replace(HUMIC_RULE, largest_ratio=None, largest_pct=120.0),)),
            ["rules.0.largest_pct"],
        ),
        (
            replace(SUMMER, stock_limits=(StockLimit("HUM", 30), StockLimit("UREA", 70.5))),
            ["stock_limits"],
        ),
        (
            BlendProblem((replace(UREA, min_pct=60.0), replace(WATER, min_pct=60.0))),
            ["stocks"],
        ),
    ],
)
def test_each_wrong_field_is_named(problem, fields):
    assert refused_fields(problem) == fields


def test_every_error_is_reported_at_once():
    problem = replace(SUMMER, wishes=(NutrientWish("Xy", -1.0),), fill=Fill(), most_stocks=0)
    assert refused_fields(problem) == ["targets.0.nutrient", "targets.0.min", "most_stocks", "fill"]


def test_solve_refuses_what_validate_refuses():
    with pytest.raises(BadProblem):
        solve(replace(SUMMER, wishes=(NutrientWish("N", NAN),)))


NUMBERS = {
    "targets.0.min": lambda bad: replace(SUMMER, wishes=(NutrientWish("N", bad),)),
    "targets.0.max": lambda bad: replace(SUMMER, wishes=(NutrientWish("N", None, bad),)),
    "slow_release_pct.min": lambda bad: replace(SUMMER, slow_release=SlowReleaseWish(bad)),
    "slow_release_pct.max": lambda bad: replace(SUMMER, slow_release=SlowReleaseWish(None, bad)),
    "stock_limits.0.min_pct": lambda bad: replace(SUMMER, stock_limits=(StockLimit("HUM", bad),)),
    "stock_limits.0.max_pct": lambda bad: replace(
        SUMMER, stock_limits=(StockLimit("HUM", None, bad),)
    ),
    "smallest_charge_pct": lambda bad: replace(SUMMER, smallest_charge_pct=bad),
    "fill.volume_gal": lambda bad: replace(SUMMER, fill=Fill(volume_gal=bad)),
    "fill.mass_lb": lambda bad: replace(SUMMER, fill=Fill(mass_lb=bad)),
    "stocks.2.density_lb_per_gal": lambda bad: with_stock(density_lb_per_gal=bad),
    "stocks.2.cost_per_lb": lambda bad: with_stock(cost_per_lb=bad),
    "stocks.2.min_pct": lambda bad: with_stock(min_pct=bad),
    "stocks.2.max_pct": lambda bad: with_stock(max_pct=bad),
    "stocks.2.scale_step_lb": lambda bad: with_stock(scale_step_lb=bad),
    "stocks.2.analysis.S": lambda bad: with_stock(analysis={"S": bad}),
}


@given(
    field=st.sampled_from(sorted(NUMBERS)),
    bad=st.sampled_from([NAN, INF, -INF, -1e-9, -5.0]),
)
def test_no_number_that_is_not_finite_or_is_negative_gets_past(field, bad):
    assert refused_fields(NUMBERS[field](bad)) == [field]


def test_maxima_below_100_are_out_of_reach_and_not_a_wrong_question():
    problem = BlendProblem((replace(UREA, max_pct=40.0), replace(WATER, max_pct=50.0)))
    validate(problem)
    assert isinstance(solve(problem, explain=False), OutOfReach)


def test_potassium_chloride_is_not_over_100_percent():
    """KCl is 63.18 % K2O and 47.55 % Cl: that oxygen is not there (IUPAC masses, molmass)."""
    validate(BlendProblem((stock("KCL", 9.0, 0.2, {"K2O": 63.18, "Cl": 47.55}), WATER)))
    pressed = stock("KCL", 9.0, 0.2, {"K2O": 63.18, "Cl": 47.55, "N.urea": 1.0})
    assert refused_fields(BlendProblem((pressed, WATER))) == ["stocks.0.analysis"]


def test_an_excluded_stocks_own_minimum_does_not_count():
    validate(
        BlendProblem(
            (replace(UREA, min_pct=60.0), replace(WATER, min_pct=60.0)),
            exclude=frozenset({"UREA"}),
        )
    )
