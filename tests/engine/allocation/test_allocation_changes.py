"""What a changed recipe keeps: guarantees, rules, limits, the ordered gallons."""

from dataclasses import replace

import pytest

from formulas.engine import (
    NutrientWish,
    SlowReleaseWish,
)
from formulas.engine.allocation.allocating import OrderVerdict, allocate
from formulas.engine.composition import content_pct, slow_n_pct
from tests.engine.allocation.allocation_cases import STOCKS, by_code, order, plenty
from tests.engine.lawn_stocks import (
    FEDTA,
    FES,
    HUM,
    HUMIC_RULE,
    JAR_RULE,
    KACE,
    KTHIO25,
    RULES,
    TRIAZONE,
    UAN32,
    UREA,
    WATER,
)


def test_a_recipe_change_within_the_guarantees_frees_stock_for_another_order():
    asked = [
        order("may", 1000.0, {"UAN32": 50.0, "WATER": 50.0}, may_change=True,
              wishes=(NutrientWish("N", 16.0),)),
        order("must", 1000.0, {"UAN32": 60.0, "WATER": 40.0}),
    ]  # fmt: skip
    plan = allocate(asked, STOCKS, plenty() | {"UAN32": 600.0})
    may, must = plan.orders
    assert must.verdict is OrderVerdict.OWN_RECIPE
    assert may.verdict is OrderVerdict.CHANGED_RECIPE
    # 16 % N from urea at 23 %: 69.57 %.
    assert may.changed_pct == pytest.approx({"UREA": 1600 / 23, "WATER": 100 - 1600 / 23})
    assert may.freed_lb["UAN32"] == pytest.approx(500)
    assert may.extra_cost == pytest.approx(1000 * (16 / 23 * 0.16 - 0.5 * 0.17))
    uan = plan.stocks[0]
    assert (uan.wanted_lb, uan.short_lb, uan.left_lb) == pytest.approx((1100, 500, 0))


def test_a_recipe_is_not_changed_merely_to_save_money():
    asked = [
        order("A", 1000.0, {"KTHIO25": 10.0, "WATER": 90.0}, may_change=True,
              wishes=(NutrientWish("K2O", 0.5),))
    ]  # fmt: skip
    plan = allocate(asked, STOCKS, plenty())
    assert plan.orders[0].verdict is OrderVerdict.OWN_RECIPE


def test_a_changed_recipe_keeps_the_slow_share_and_both_sides_of_a_wish():
    stocks = (UAN32, UREA, TRIAZONE, KACE, KTHIO25, WATER)
    recipe = {"UAN32": 25.0, "TRIAZONE": 55.0, "KTHIO25": 12.0, "WATER": 8.0}
    asked = order(
        "A", 1000.0, recipe, may_change=True,
        wishes=(NutrientWish("N", 23.0), NutrientWish("K2O", 2.9, 3.2)),
        slow_release=SlowReleaseWish(45.0, 60.0),
    )  # fmt: skip
    plan = allocate([asked], stocks, plenty(stocks) | {"KTHIO25": 50.0, "UAN32": 200.0})
    changed = plan.orders[0].changed_pct
    mix = [(stock, changed.get(stock.code, 0.0) / 100) for stock in stocks]
    n = sum(share * content_pct(stock.analysis, "N") for stock, share in mix)
    k = sum(share * content_pct(stock.analysis, "K2O") for stock, share in mix)
    slow = sum(share * slow_n_pct(stock.analysis) for stock, share in mix)
    assert n >= 23 - 1e-7
    assert 2.9 - 1e-7 <= k <= 3.2 + 1e-7
    assert 0.45 * n - 1e-7 <= slow <= 0.6 * n + 1e-7


def test_a_changed_recipe_brings_in_nothing_that_must_not_meet():
    # Plain iron is on hand, but it must not meet urea-triazone: only the chelate may help.
    stocks = (UAN32, TRIAZONE, FES, FEDTA, WATER)
    recipe = {"TRIAZONE": 80.0, "FEDTA": 10.0, "WATER": 10.0}
    asked = order("A", 1000.0, recipe, may_change=True, wishes=(NutrientWish("Fe", 0.4),))
    held = plenty(stocks) | {"FEDTA": 90.0, "TRIAZONE": 700.0}
    made = allocate([asked], stocks, held, RULES).orders[0]
    assert made.verdict is OrderVerdict.CHANGED_RECIPE
    assert "FES" not in made.weights_lb
    starved = allocate([asked], stocks, held | {"FEDTA": 10.0}, RULES).orders[0]
    assert starved.verdict is OrderVerdict.NOT_NOW
    assert allocate([asked], stocks, held | {"FEDTA": 10.0}).orders[0].made_lb == 1000


@pytest.mark.parametrize(
    "rule", [HUMIC_RULE, replace(HUMIC_RULE, largest_ratio=None, largest_pct=20.0)]
)
def test_limits_between_stocks_and_own_limits_hold_in_a_changed_recipe(rule):
    stocks = (UREA, TRIAZONE, HUM, WATER)
    recipe = {"TRIAZONE": 30.0, "HUM": 10.0, "WATER": 60.0}
    asked = order(
        "A", 1000.0, recipe, may_change=True, may_be_partial=True,
        wishes=(NutrientWish("humic_acid", 1.0),),
    )  # fmt: skip
    # Hardly any water: the rest must come from humic extract, urea-triazone and urea.
    held = {"TRIAZONE": 200.0, "HUM": 900.0, "UREA": 250.0, "WATER": 10.0}
    weights = allocate([asked], stocks, held, (rule,)).orders[0].weights_lb
    total, humic = sum(weights.values()), weights["HUM"]
    most = weights["TRIAZONE"] if rule.largest_ratio else 0.2 * total
    assert humic <= most + 1e-6
    capped = (UREA, TRIAZONE, replace(HUM, max_pct=12.0), WATER)
    weights = allocate([asked], capped, held).orders[0].weights_lb
    assert weights["HUM"] <= 0.12 * sum(weights.values()) + 1e-6


def test_a_changed_recipe_names_the_jar_tests_it_newly_asks_for():
    asked = order("A", 1000.0, {"UAN32": 50.0, "KACE": 10.0, "WATER": 40.0}, may_change=True,
                  wishes=(NutrientWish("N", 16.0), NutrientWish("K2O", 2.4)))  # fmt: skip
    made = allocate([asked], STOCKS, plenty() | {"KACE": 0.0}, (JAR_RULE,)).orders[0]
    assert made.jar_tests == ("thiosulfate meets nitrate: May salt out when cold.",)
    plain = allocate([asked], STOCKS, plenty(), (JAR_RULE,)).orders[0]
    assert plain.jar_tests == ()


def test_ordered_gallons_are_filled_by_a_changed_recipe_of_another_density():
    recipe = {"UAN32": 50.0, "WATER": 50.0}
    asked = order("A", 1000.0, recipe, may_change=True, by_volume=True,
                  wishes=(NutrientWish("N", 15.0),))  # fmt: skip
    gallons = 500 / UAN32.density_lb_per_gal + 500 / WATER.density_lb_per_gal
    made = allocate([asked], STOCKS, plenty() | {"UAN32": 0.0}).orders[0]
    assert made.verdict is OrderVerdict.CHANGED_RECIPE
    density = {stock.code: stock.density_lb_per_gal for stock in STOCKS}
    filled = sum(lb / density[code] for code, lb in made.weights_lb.items())
    # One part in ten thousand more, for what is rounded later.
    assert filled == pytest.approx(1.0001 * gallons, rel=1e-6)
    assert made.made_lb == pytest.approx(sum(made.weights_lb.values()))
    assert made.made_lb != pytest.approx(1000.0, rel=1e-3)


def test_orders_of_one_recipe_change_the_largest_and_leave_the_others():
    recipe = {"UAN32": 50.0, "WATER": 50.0}
    asked = [
        order(f"O{mass}", float(mass), recipe, press=press, may_change=True,
              wishes=(NutrientWish("N", 16.0),))
        for mass, press in ((300, 20.0), (100, 30.0), (200, 40.0))
    ]  # fmt: skip
    plan = by_code(allocate(asked, STOCKS, plenty() | {"UAN32": 160.0}))
    verdicts = [plan[code].verdict for code in ("O100", "O200", "O300")]
    assert verdicts == [OrderVerdict.OWN_RECIPE] * 2 + [OrderVerdict.CHANGED_RECIPE]


def test_a_limit_the_own_recipe_is_above_is_not_brought_into_a_mixture_with_it():
    """Humic extract is limited beside urea-triazone only; this recipe has none of the latter."""
    stocks = (UREA, TRIAZONE, HUM, WATER)
    recipe = {"UREA": 60.0, "HUM": 30.0, "WATER": 10.0}
    asked = order("A", 1000.0, recipe, may_change=True, wishes=(NutrientWish("N", 13.0),))
    held = plenty(stocks) | {"UREA": 400.0}
    assert allocate([asked], stocks, held).orders[0].verdict is OrderVerdict.CHANGED_RECIPE
    made = allocate([asked], stocks, held, (HUMIC_RULE,)).orders[0]
    assert "TRIAZONE" not in made.weights_lb


@pytest.mark.parametrize("slow", [SlowReleaseWish(min_pct=30.0), SlowReleaseWish(max_pct=60.0)])
def test_a_one_sided_slow_share_and_a_maximum_alone_hold_in_a_changed_recipe(slow):
    stocks = (UAN32, UREA, TRIAZONE, WATER)
    recipe = {"UAN32": 40.0, "TRIAZONE": 60.0}
    asked = order(
        "A", 1000.0, recipe, may_change=True, slow_release=slow,
        wishes=(NutrientWish("N", max_pct=30.0),),
    )  # fmt: skip
    held = {"UAN32": 200.0, "UREA": 900.0, "TRIAZONE": 900.0, "WATER": 0.0}
    changed = allocate([asked], stocks, held).orders[0].changed_pct
    mix = [(stock, changed.get(stock.code, 0.0) / 100) for stock in stocks]
    n = sum(share * content_pct(stock.analysis, "N") for stock, share in mix)
    share = sum(part * slow_n_pct(stock.analysis) for stock, part in mix) / n
    assert n <= 30 + 1e-7
    assert share >= 0.3 - 1e-9 if slow.min_pct else share <= 0.6 + 1e-9
