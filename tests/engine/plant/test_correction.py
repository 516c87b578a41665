"""A corrected tank keeps every promise, every rule and every scale."""

from dataclasses import replace

import pytest
from hypothesis import given

from formulas.engine import (
    CompatibilityRule,
    Effect,
    NutrientWish,
    SlowReleaseWish,
    Stock,
)
from formulas.engine.composition import content_pct
from formulas.engine.plant.correction import (
    Aim,
    CannotCorrect,
    Corrected,
    InTank,
    OnHand,
    Promise,
    correct,
)
from tests.engine.lawn_stocks import (
    FEDTA,
    FES,
    HUM,
    HUMIC_RULE,
    JAR_RULE,
    KACE,
    KTHIO25,
    STOCKS,
    TRIAZONE,
    UAN32,
    WATER,
)
from tests.engine.plant.correction_cases import (
    SHELF,
    SUMMER,
    WEIGHED,
    every_addition,
    keeps,
    obeys,
    pct_of,
    small_tanks,
    tank,
    totals,
)
from tests.engine.said import said


@pytest.mark.parametrize("code", ["UAN32", "TRIAZONE", "KTHIO25", "WATER"])
@pytest.mark.parametrize("times", [0.9, 1.05, 1.1])
def test_a_weight_that_is_off_is_corrected_within_the_tank(code, times):
    plain = {stock.code: lb for stock, lb in WEIGHED}
    charges = tank(**{code: round(plain[code] * times)})
    done = correct(charges, SHELF, SUMMER)
    assert isinstance(done, Corrected)
    mixture = totals(charges, done)
    assert keeps(mixture, SUMMER)
    assert done.mass_lb == pytest.approx(sum(lb for _, lb in mixture))
    assert done.analysis["N"] == pytest.approx(pct_of(mixture, lambda a: content_pct(a, "N")))
    assert done.added_cost == pytest.approx(sum(each.cost for each in done.additions))
    assert done.volume_gal == pytest.approx(done.mass_lb / done.density_lb_per_gal)


def test_a_tank_that_keeps_its_promises_needs_nothing():
    done = correct(tank(), SHELF, SUMMER)
    assert done.additions == ()
    assert done.added_cost == done.added_lb == 0


def test_additions_come_in_charging_order():
    ranked = [
        OnHand(replace(UAN32, charging_rank=40), 500),
        OnHand(replace(TRIAZONE, charging_rank=70), 500),
        OnHand(replace(KTHIO25, charging_rank=60), 500),
    ]
    done = correct(tank(WATER=145), ranked, SUMMER)
    assert [each.code for each in done.additions] == ["UAN32", "KTHIO25", "TRIAZONE"]


def test_a_stock_that_comes_late_is_added_with_a_caution():
    late = OnHand(replace(UAN32, charging_rank=10), 500)
    done = correct(tank(UAN32=500), [late], SUMMER)
    assert [each.code for each in done.additions] == ["UAN32"]
    (caution,) = [found for found in done.findings if found.code == "charged_late"]
    assert caution.severity == "caution"
    assert "already in the tank" in caution.message


def test_the_assay_of_the_lot_in_the_tank_counts_and_not_the_nominal_one():
    weak = replace(KACE, analysis={"K2O": 20.0})
    charges = [InTank(weak, 100), InTank(KACE, 100), InTank(WATER, 200)]
    promise = Promise((NutrientWish("K2O", 12.0),))
    done = correct(charges, [OnHand(KACE, 500)], promise)
    # 44 lb of K2O in 400 lb; x lb of 24 % more: 44 + 0.24 x >= 0.12 (400 + x), x = 33.3.
    assert [(each.code, each.weight_lb) for each in done.additions] == [("KACE", 34)]


def test_additions_are_whole_steps_of_each_scale():
    coarse = [OnHand(replace(stock, scale_step_lb=2.5), 500) for stock in STOCKS]
    done = correct(tank(WATER=145), coarse, SUMMER)
    assert done.additions
    for each in done.additions:
        assert each.weight_lb == 2.5 * each.steps


def test_the_smallest_mass_may_cost_more_than_the_smallest_cost():
    rich = Stock("RICH", "Rich", 11.0, 2.0, {"K2O": 40.0})
    charges = [InTank(KACE, 100), InTank(WATER, 200)]
    promise = Promise((NutrientWish("K2O", 10.0),))
    shelf = [OnHand(rich, 500), OnHand(KACE, 500)]
    cheap, light = (correct(charges, shelf, promise, aim=aim) for aim in (Aim.COST, Aim.MASS))
    # 24 lb of K2O in 300 lb: 6 / 0.14 = 43 lb of 24 %, or 6 / 0.30 = 20 lb of 40 %.
    assert [(each.code, each.weight_lb) for each in cheap.additions] == [("KACE", 43)]
    assert [(each.code, each.weight_lb) for each in light.additions] == [("RICH", 20)]


def test_what_must_not_meet_the_tank_is_not_added():
    promise = replace(SUMMER, wishes=(*SUMMER.wishes, NutrientWish("Fe", 0.1)), most_gal=None)
    shelf = [OnHand(stock, 5000.0) for stock in STOCKS]
    done = correct(tank(), shelf, promise)
    assert {"FEDTA"} <= {each.code for each in done.additions}
    assert "FES" not in {each.code for each in done.additions}
    # Without the rule the plain iron is the cheaper one.
    free = correct(tank(), shelf, replace(promise, rules=()))
    assert "FES" in {each.code for each in free.additions}


def test_two_new_stocks_that_must_not_meet_are_not_both_added():
    charges = [InTank(WATER, 1000)]
    apart = CompatibilityRule("thiosulfate", "unchelated_iron", Effect.BLOCKS, "Why.", "demo")
    promise = Promise((NutrientWish("K2O", 3.0), NutrientWish("Fe", 0.2)), rules=(apart,))
    shelf = [OnHand(stock, 1000) for stock in (KTHIO25, KACE, FES, FEDTA)]
    codes = {each.code for each in correct(charges, shelf, promise).additions}
    assert not {"KTHIO25", "FES"} <= codes
    assert {"KTHIO25", "FES"} <= {
        each.code for each in correct(charges, shelf, replace(promise, rules=())).additions
    }


@pytest.mark.parametrize("in_tank", [True, False])
@pytest.mark.parametrize("limit", [{"largest_ratio": 1.0}, {"largest_pct": 17.0}])
def test_a_limit_beside_another_stock_is_kept(in_tank, limit):
    # Humic at most 1 lb per lb of urea-triazone (or so much of the blend) while there is any.
    charges = [InTank(WATER, 1000), *([InTank(TRIAZONE, 10)] if in_tank else [])]
    rule = replace(HUMIC_RULE, **({"largest_ratio": None} | limit))
    promise = Promise((NutrientWish("humic_acid", 2.0), NutrientWish("N.slow", 0.1)), rules=(rule,))
    shelf = [OnHand(HUM, 2000), OnHand(TRIAZONE, 2000)]
    lb = {stock.code: 0.0 for stock in STOCKS}
    for stock, pounds in totals(charges, correct(charges, shelf, promise), shelf):
        lb[stock.code] += pounds
    most = lb["TRIAZONE"] if "largest_ratio" in limit else 0.17 * sum(lb.values())
    assert 0 < lb["HUM"] <= most + 1e-9


def test_a_jar_test_rule_warns_and_binds_nothing():
    done = correct(tank(UAN32=500), SHELF, replace(SUMMER, rules=(JAR_RULE,)))
    assert any(found.code == "jar_test" for found in done.findings)


def test_a_stocks_own_limit_is_kept():
    # Humic extract at most 40 % of a blend.
    done = correct([InTank(HUM, 500), InTank(WATER, 500)], [OnHand(WATER, 1000)], Promise())
    assert [(each.code, each.weight_lb) for each in done.additions] == [("WATER", 250)]


@given(small_tanks())
def test_a_small_correction_is_the_cheapest_there_is(question):
    charges, shelf, promise = question
    before = [(charge.stock, charge.weight_lb) for charge in charges]
    stock_of = {offer.stock.code: offer.stock for offer in shelf}
    costs = []
    for lb in every_addition(shelf):
        mixture = before + [(stock_of[code], pounds) for code, pounds in lb.items()]
        if keeps(mixture, promise) and obeys(mixture, promise):
            costs.append(sum(stock_of[code].cost_per_lb * pounds for code, pounds in lb.items()))
    answer = correct(charges, shelf, promise)
    if not costs:
        assert isinstance(answer, CannotCorrect)
        return
    assert isinstance(answer, Corrected)
    mixture = totals(charges, answer, shelf)
    assert keeps(mixture, promise)
    assert obeys(mixture, promise)
    assert all(each.weight_lb > 0 for each in answer.additions)
    assert all(each.weight_lb <= 12.0 for each in answer.additions)
    # Ties are broken by a millionth of a dollar per pound.
    assert answer.added_cost == pytest.approx(min(costs), abs=1e-4)


def test_a_limit_beside_a_stock_that_is_not_added_binds_nothing():
    rule = replace(HUMIC_RULE, largest_ratio=None, largest_pct=5.0)
    shelf = [OnHand(HUM, 2000), OnHand(TRIAZONE, 2000)]
    promise = Promise((NutrientWish("humic_acid", 2.0),), rules=(rule,))
    done = correct([InTank(WATER, 1000)], shelf, promise)
    assert [each.code for each in done.additions] == ["HUM"]  # 16.7 % of the blend


def test_a_wish_may_be_a_maximum_alone():
    done = correct(
        [InTank(KACE, 100), InTank(WATER, 100)],
        [OnHand(WATER, 500)],
        Promise((NutrientWish("K2O", max_pct=10.0),)),
    )
    assert [(each.code, each.weight_lb) for each in done.additions] == [("WATER", 40)]


def test_a_slow_share_may_have_a_maximum():
    charges = [InTank(TRIAZONE, 500), InTank(UAN32, 400)]
    promise = Promise((), SlowReleaseWish(max_pct=35.0))
    done = correct(charges, [OnHand(UAN32, 500)], promise)
    # 100.8 lb of slow N may be 35 % of 288 lb: 140 lb and 0.32 (400 + x), x = 62.5.
    assert [(each.code, each.weight_lb) for each in done.additions] == [("UAN32", 63)]
    answer = correct(charges, [], promise)
    assert said(answer.problem, answer.best.above) == ("slow release at most 35 % of N",)
