"""What one more unit of a wish costs, and how far a price may move."""

from dataclasses import replace

import pytest

from formulas.engine import (
    BlendProblem,
    NutrientWish,
    SlowReleaseWish,
    StockLimit,
    cost_ranges,
    solve,
)
from formulas.wording.limits import limit_words
from tests.engine.lawn_stocks import KTHIO25, SUMMER, TRIAZONE, UAN32, UREA, WATER, shares

FULL = replace(
    SUMMER,
    wishes=(NutrientWish("N", 24.0), NutrientWish("K2O", 3.0, 3.5), NutrientWish("Fe", 0.1)),
    stock_limits=(StockLimit("HUM", 2.0, 10.0),),
)
STEP = 1e-3


def prices(problem):
    return {
        limit_words(problem, entry.wish): entry.cost_per_unit
        for entry in solve(problem).sensitivities
    }


def cost(problem):
    return solve(problem, explain=False).blend.cost_per_lb


def test_nitrogen_by_hand():
    """One point of N from a 32 % stock at $0.17 and water at $0: 0.17 / 32 a lb of blend."""
    question = BlendProblem((UAN32, WATER), (NutrientWish("N", 28.0),))
    assert prices(question) == {"N at least 28": pytest.approx(0.17 / 32)}


def test_every_wish_has_a_price_and_a_slack_one_costs_nothing():
    found = prices(FULL)
    assert list(found) == [
        "N at least 24",
        "K2O at least 3",
        "K2O at most 3.5",
        "Fe at least 0.1",
        "slow release at least 50 % of N",
        "HUM at least 2 %",
        "HUM at most 10 %",
    ]
    assert found["K2O at most 3.5"] == 0.0
    assert found["HUM at most 10 %"] == 0.0


@pytest.mark.parametrize(
    ("wish", "moved"),
    [
        (
            "N at least 24",
            replace(FULL, wishes=(NutrientWish("N", 24.0 + STEP), *FULL.wishes[1:])),
        ),
        (
            "K2O at least 3",
            replace(
                FULL, wishes=(FULL.wishes[0], NutrientWish("K2O", 3.0 + STEP, 3.5), FULL.wishes[2])
            ),
        ),
        (
            "Fe at least 0.1",
            replace(FULL, wishes=(*FULL.wishes[:2], NutrientWish("Fe", 0.1 + STEP))),
        ),
        ("slow release at least 50 % of N", replace(FULL, slow_release=SlowReleaseWish(50 + STEP))),
        ("HUM at least 2 %", replace(FULL, stock_limits=(StockLimit("HUM", 2 + STEP, 10),))),
    ],
)
def test_the_price_is_what_a_changed_wish_really_costs(wish, moved):
    price = prices(FULL)[wish]
    assert price > 0
    assert (cost(moved) - cost(FULL)) / STEP == pytest.approx(price, rel=1e-3)


def test_raising_a_binding_maximum_saves():
    question = BlendProblem(
        (replace(UREA, cost_per_lb=0.1), replace(WATER, cost_per_lb=0.2)),
        (NutrientWish("N", None, 11.5),),
    )
    found = prices(question)
    assert found["N at most 11.5"] < 0
    moved = replace(question, wishes=(NutrientWish("N", None, 11.5 + STEP),))
    assert (cost(moved) - cost(question)) / STEP == pytest.approx(found["N at most 11.5"], rel=1e-6)


def test_the_tighter_of_two_wishes_on_one_stock_owns_the_price():
    question = BlendProblem(
        (UREA, WATER), stock_limits=(StockLimit("UREA", 10.0), StockLimit("UREA", 20.0))
    )
    assert prices(question) == {
        "UREA at least 10 %": 0.0,
        "UREA at least 20 %": pytest.approx(0.16 / 100),
    }


def test_inside_its_range_a_price_changes_nothing_and_outside_it_does():
    # The whole figure: prices move one at a time, the recipe stays until the end of the range.
    question = BlendProblem(
        (UAN32, UREA, TRIAZONE, KTHIO25, WATER),
        (NutrientWish("N", 24.0), NutrientWish("K2O", 3.0)),
        SlowReleaseWish(30.0),
    )
    recipe = shares(solve(question).blend)
    ranges = cost_ranges(question)
    assert [entry.code for entry in ranges] == [stock.code for stock in question.stocks]

    def recipe_at(code, price):
        stocks = tuple(
            replace(stock, cost_per_lb=price) if stock.code == code else stock
            for stock in question.stocks
        )
        return shares(solve(replace(question, stocks=stocks)).blend)

    checked = 0
    for entry in ranges:
        assert entry.lowest_cost_per_lb <= entry.cost_per_lb <= entry.highest_cost_per_lb
        for edge, outward in ((entry.lowest_cost_per_lb, -1), (entry.highest_cost_per_lb, 1)):
            if 0.01 < edge < 50:
                inside = edge - outward * 1e-4
                beyond = edge + outward * 1e-4
                assert recipe_at(entry.code, inside) == pytest.approx(recipe, abs=1e-6)
                assert recipe_at(entry.code, beyond) != pytest.approx(recipe, abs=1e-6)
                checked += 1
    assert checked >= 3


def test_no_range_for_what_cannot_be_made():
    assert cost_ranges(BlendProblem((UREA, WATER), (NutrientWish("N", 30.0),))) == ()


def test_ranges_after_a_tie_are_those_of_the_costs_asked():
    twin = replace(UREA, code="AREA")
    ranges = cost_ranges(BlendProblem((UREA, twin, WATER), (NutrientWish("N", 11.5),)))
    by_code = {entry.code: entry for entry in ranges}
    assert by_code["UREA"].cost_per_lb == 0.16
    assert any(
        entry.cost_per_lb
        in (pytest.approx(entry.lowest_cost_per_lb), pytest.approx(entry.highest_cost_per_lb))
        for entry in (by_code["UREA"], by_code["AREA"])
    )
