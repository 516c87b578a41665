"""Orders share what is there: never more than is on hand, what presses first, guarantees kept."""

import itertools
import math
from dataclasses import replace

import numpy as np
import pulp
import pytest
from hypothesis import given
from hypothesis import strategies as st

from formulas.engine import (
    BadProblem,
    CompatibilityRule,
    Effect,
    NutrientWish,
    SlowReleaseWish,
    Stock,
)
from formulas.engine.allocation import OpenOrder, OrderVerdict, allocate, penalty_per_lb
from formulas.engine.allocation_checks import check
from formulas.engine.allocation_choice import choose, total_of
from formulas.engine.allocation_program import allocation_program
from formulas.engine.composition import content_pct, slow_n_pct
from formulas.engine.result import EngineFailure
from tests.engine.lawn_stocks import (
    FEDTA,
    FES,
    HUM,
    HUMIC_RULE,
    JAR_RULE,
    KACE,
    KTS,
    RULES,
    TRIAZONE,
    UAN32,
    UREA,
    WATER,
)

CBC = pulp.COIN_CMD(path=pulp.PULP_CBC_CMD.pulp_cbc_path, msg=False, threads=1)
STOCKS = (UAN32, UREA, KACE, KTS, WATER)


def order(code, mass_lb, recipe, press=20.0, **rest):
    return OpenOrder(code, mass_lb, recipe, press, **rest)


def by_code(plan):
    return {each.code: each for each in plan.orders}


def plenty(stocks=STOCKS, lb=1e6):
    return {stock.code: lb for stock in stocks}


def test_with_plenty_on_hand_every_order_keeps_its_recipe():
    asked = [
        order("A", 1000.0, {"UAN32": 50.0, "WATER": 50.0}, may_change=True,
              wishes=(NutrientWish("N", 15.0),)),
        order("B", 2000.0, {"KACE": 25.0, "WATER": 75.0}),
    ]  # fmt: skip
    plan = allocate(asked, STOCKS, plenty())
    assert [each.verdict for each in plan.orders] == [OrderVerdict.OWN_RECIPE] * 2
    assert plan.is_exact
    assert plan.orders[0].weights_lb == pytest.approx({"UAN32": 500, "WATER": 500})
    # 1,000 lb x $0.085 and 2,000 lb x $0.1375.
    assert plan.total == pytest.approx(85 + 275)
    assert all(stock.short_lb == 0 for stock in plan.stocks)


def test_of_two_orders_for_one_stock_the_more_pressing_is_made():
    asked = [
        order("later", 100.0, {"UAN32": 60.0, "WATER": 40.0}, press=20.0),
        order("now", 100.0, {"UAN32": 60.0, "WATER": 40.0}, press=21.0),
    ]
    plan = by_code(allocate(asked, STOCKS, plenty() | {"UAN32": 100.0}))
    assert plan["now"].verdict is OrderVerdict.OWN_RECIPE
    assert plan["later"].verdict is OrderVerdict.NOT_NOW
    # 40 lb stay; the order needs 60.
    assert plan["later"].missing_lb == pytest.approx({"UAN32": 20})
    assert plan["later"].weights_lb == {}


def test_an_order_is_made_in_part_only_if_it_allows_it():
    recipe = {"UAN32": 60.0, "WATER": 40.0}
    held = plenty() | {"UAN32": 30.0}
    whole = allocate([order("A", 100.0, recipe)], STOCKS, held).orders[0]
    part = allocate([order("A", 100.0, recipe, may_be_partial=True)], STOCKS, held).orders[0]
    assert (whole.verdict, whole.made_lb) == (OrderVerdict.NOT_NOW, 0)
    assert part.verdict is OrderVerdict.PARTIAL
    assert part.made_lb == pytest.approx(50)
    assert part.missing_lb == pytest.approx({"UAN32": 30})


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
        order("A", 1000.0, {"KTS": 10.0, "WATER": 90.0}, may_change=True,
              wishes=(NutrientWish("K2O", 0.5),))
    ]  # fmt: skip
    plan = allocate(asked, STOCKS, plenty())
    assert plan.orders[0].verdict is OrderVerdict.OWN_RECIPE


def test_a_changed_recipe_keeps_the_slow_share_and_both_sides_of_a_wish():
    stocks = (UAN32, UREA, TRIAZONE, KACE, KTS, WATER)
    recipe = {"UAN32": 25.0, "TRIAZONE": 55.0, "KTS": 12.0, "WATER": 8.0}
    asked = order(
        "A", 1000.0, recipe, may_change=True,
        wishes=(NutrientWish("N", 23.0), NutrientWish("K2O", 2.9, 3.2)),
        slow_release=SlowReleaseWish(45.0, 60.0),
    )  # fmt: skip
    plan = allocate([asked], stocks, plenty(stocks) | {"KTS": 50.0, "UAN32": 200.0})
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


def test_what_has_no_entry_on_hand_is_not_there():
    asked = [order("A", 100.0, {"UAN32": 100.0})]
    assert allocate(asked, STOCKS, {}).orders[0].verdict is OrderVerdict.NOT_NOW


def test_penalties_rise_with_priority_and_as_the_due_date_nears():
    far, near, due, late = (penalty_per_lb(0.5, 1.0, days) for days in (60, 7, 0, -7))
    assert far < near < due < late
    assert penalty_per_lb(0.5, 2.0, 7) == 2 * near
    assert due == pytest.approx(2 * 10 * 0.51)


def random_plants(partial):
    @st.composite
    def draw_one(draw):
        count = draw(st.integers(1, 5))
        asked = []
        for number in range(count):
            parts = [draw(st.integers(0, 4)) for _ in STOCKS[:4]]
            recipe = {
                stock.code: 100.0 * part / (sum(parts) + 2)
                for stock, part in zip(STOCKS, [*parts, 2], strict=True)
            }
            mix = [(stock, recipe[stock.code] / 100) for stock in STOCKS]
            held = {
                key: sum(share * content_pct(stock.analysis, key) for stock, share in mix)
                for key in ("N", "K2O")
            }
            asked.append(
                order(
                    f"O{number}",
                    100.0 * draw(st.integers(1, 30)),
                    recipe,
                    press=draw(st.sampled_from([10.0, 15.0, 30.0])),
                    may_change=draw(st.booleans()),
                    may_be_partial=partial or draw(st.booleans()),
                    wishes=tuple(NutrientWish(key, 0.9 * pct) for key, pct in held.items()),
                )
            )
        on_hand = {stock.code: 100.0 * draw(st.integers(0, 30)) for stock in STOCKS}
        return asked, on_hand

    return draw_one()


@given(random_plants(partial=False))
def test_no_plan_uses_more_than_is_there_or_makes_more_than_was_asked(question):
    asked, on_hand = question
    plan = allocate(asked, STOCKS, on_hand)
    for stock in plan.stocks:
        used = sum(each.weights_lb.get(stock.code, 0.0) for each in plan.orders)
        assert used <= on_hand[stock.code] + 1e-3
        assert stock.used_lb == pytest.approx(used, abs=1e-3)
    for each, want in zip(plan.orders, asked, strict=True):
        assert each.made_lb == pytest.approx(sum(each.weights_lb.values()), abs=1e-4)
        assert each.made_lb <= want.mass_lb * (1 + 1e-9)
        if not want.may_be_partial:
            assert each.made_lb in (0, pytest.approx(want.mass_lb))
        if not want.may_change:
            assert each.changed_pct is None
        for wish in want.wishes if each.made_lb else ():
            lb = sum(
                each.weights_lb.get(stock.code, 0.0) * content_pct(stock.analysis, wish.nutrient)
                for stock in STOCKS
            )
            assert lb / each.made_lb >= wish.min_pct - 1e-6


def plan_by_cbc(asked, on_hand):
    """The least total by CBC, written in pounds and from the words of the question."""
    model = pulp.LpProblem("allocation", pulp.LpMinimize)
    dearest = max(stock.cost_per_lb for stock in STOCKS)
    total, used = [], {stock.code: [] for stock in STOCKS}
    for o, each in enumerate(asked):
        own = model.add_variable(f"own{o}", 0)
        other = {
            stock.code: model.add_variable(f"x{o}{stock.code}", 0, None if each.may_change else 0)
            for stock in STOCKS
        }
        kind = pulp.LpContinuous if each.may_be_partial else pulp.LpBinary
        unmade = model.add_variable(f"z{o}", 0, 1, kind)
        # In the unit that is ordered: pounds, or gallons, which a change fills by 0.01 % more.
        fills = {stock.code: 1.0 for stock in STOCKS}
        if each.by_volume:
            fills = {stock.code: 1 / stock.density_lb_per_gal for stock in STOCKS}
        of_own = sum(each.recipe[code] / 100 * fill for code, fill in fills.items())
        surplus = 1.0001 if each.by_volume else 1.0
        changed = pulp.lpSum(fills[code] * lb for code, lb in other.items()) / surplus
        size = each.mass_lb * of_own
        model += of_own * own + changed + size * unmade == size
        for wish in each.wishes:
            model += (
                pulp.lpSum(
                    (content_pct(stock.analysis, wish.nutrient) - wish.min_pct) * other[stock.code]
                    for stock in STOCKS
                )
                >= 0
            )
        for stock in STOCKS:
            lb = each.recipe[stock.code] / 100 * own + other[stock.code]
            used[stock.code].append(lb)
            total.append(stock.cost_per_lb * lb)
        total.append((dearest + 0.01) / of_own * changed)
        total.append(each.penalty_per_lb * each.mass_lb * unmade)
    for code, parts in used.items():
        model += pulp.lpSum(parts) <= on_hand[code]
    model += pulp.lpSum(total)
    assert model.solve(CBC) == pulp.LpStatusOptimal
    return pulp.value(model.objective)


@pytest.mark.parametrize("by_volume", [True, False])
@pytest.mark.parametrize("partial", [True, False])
def test_another_solver_finds_the_same_least_total(partial, by_volume):
    """The other solver knows nothing of groups: it has columns of its own for every order."""
    rng = np.random.default_rng(7)
    for _ in range(6):
        asked, on_hand = plant(rng, 5, partial=partial)
        asked = [replace(each, by_volume=by_volume) for each in asked]
        asked += [replace(each, code=f"{each.code} again", mass_lb=700.0) for each in asked[:2]]
        plan = allocate(asked, STOCKS, on_hand)
        assert plan.is_exact
        assert plan.total == pytest.approx(plan_by_cbc(asked, on_hand), rel=1e-6)


@pytest.mark.parametrize("seed", [3, 4])
def test_no_plan_of_another_solver_beats_the_bound_that_is_shown(seed, monkeypatch):
    monkeypatch.setattr("formulas.engine.allocation_choice.MOST_EXACT", 0)
    asked, on_hand = plant(np.random.default_rng(seed), 12, partial=False)
    plan = allocate(asked, STOCKS, on_hand)
    best = plan_by_cbc(asked, on_hand)
    assert not plan.is_exact
    assert plan.bound <= best * (1 + 1e-7)
    assert plan.total >= best * (1 - 1e-7)


@pytest.mark.parametrize("seed", range(6))
def test_the_total_of_a_rounded_plan_is_that_of_its_pounds(seed, monkeypatch):
    """Worked out from the weights, whichever way they were found."""
    asked, on_hand = plant(np.random.default_rng(seed), 6, partial=False)
    held = np.array([on_hand[stock.code] for stock in STOCKS])
    choice = choose(asked, STOCKS, held, ())
    assert choice.is_exact
    assert total_of(choice.use, asked, STOCKS) == pytest.approx(choice.total, rel=1e-6)


def plant(rng, count, *, partial, may_change=True):
    asked = []
    for number in range(count):
        shares = rng.dirichlet(np.ones(len(STOCKS)))
        recipe = {stock.code: 100 * float(s) for stock, s in zip(STOCKS, shares, strict=True)}
        n = sum(
            s * content_pct(stock.analysis, "N") for stock, s in zip(STOCKS, shares, strict=True)
        )
        asked.append(
            order(
                f"O{number}",
                float(rng.integers(5, 40)) * 100,
                recipe,
                press=float(rng.integers(8, 40)),
                wishes=(NutrientWish("N", 0.95 * float(n)),),
                may_change=may_change and bool(rng.random() < 0.6),
                may_be_partial=partial,
            )
        )
    mass = sum(each.mass_lb for each in asked)
    return asked, {stock.code: float(mass * rng.uniform(0.05, 0.3)) for stock in STOCKS}


def test_all_or_nothing_is_the_best_of_all_subsets_where_recipes_stay():
    rng = np.random.default_rng(11)
    for _ in range(10):
        asked, on_hand = plant(rng, 6, partial=False, may_change=False)
        best = math.inf
        for made in itertools.product((False, True), repeat=len(asked)):
            total, fits = 0.0, True
            for stock in STOCKS:
                lb = sum(
                    each.mass_lb * each.recipe[stock.code] / 100
                    for each, is_made in zip(asked, made, strict=True)
                    if is_made
                )
                fits &= lb <= on_hand[stock.code] + 1e-9
                total += lb * stock.cost_per_lb
            total += sum(
                each.mass_lb * each.penalty_per_lb
                for each, is_made in zip(asked, made, strict=True)
                if not is_made
            )
            if fits:
                best = min(best, total)
        plan = allocate(asked, STOCKS, on_hand)
        assert plan.is_exact
        assert plan.total == pytest.approx(best)


def test_many_all_or_nothing_orders_come_close_to_what_no_plan_can_beat():
    asked, on_hand = plant(np.random.default_rng(3), 60, partial=False)
    plan = allocate(asked, STOCKS, on_hand)
    assert not plan.is_exact
    assert plan.bound < plan.total < 1.05 * plan.bound
    assert {each.verdict for each in plan.orders} >= {
        OrderVerdict.OWN_RECIPE,
        OrderVerdict.NOT_NOW,
    }
    assert OrderVerdict.PARTIAL not in {each.verdict for each in plan.orders}


@pytest.mark.parametrize(
    ("use", "said"),
    [
        ([[200.0, 0, 0, 0, 0]], "more of a stock"),
        ([[-1.0, 0, 0, 0, 0]], "more of a stock"),
        ([[90.0, 0, 0, 0, 20.0]], "more than A asks for"),
        ([[10.0, 0, 0, 0, 90.0]], "N is 3.2"),
    ],
)
def test_a_wrong_answer_is_never_shown(use, said):
    asked = order("A", 100.0, {"UAN32": 100.0}, may_change=True, wishes=(NutrientWish("N", 30.0),))
    held = np.full(5, 100.0)
    with pytest.raises(EngineFailure, match=said):
        check(np.array(use), [asked], STOCKS, held, ())


GOOD = order("A", 100.0, {"UAN32": 100.0})


@pytest.mark.parametrize(
    ("asked", "on_hand", "field"),
    [
        ([], {}, "orders"),
        ([GOOD], {"UAN32": -1.0}, "on_hand_lb.UAN32"),
        ([GOOD], {"?": 1.0}, "on_hand_lb.?"),
        ([replace(GOOD, mass_lb=0.0)], {}, "orders.0.mass_lb"),
        ([replace(GOOD, penalty_per_lb=0.1)], {}, "orders.0.penalty_per_lb"),
        ([replace(GOOD, recipe={"UAN32": 90.0})], {}, "orders.0.recipe"),
        ([replace(GOOD, recipe={"UAN32": math.nan})], {}, "orders.0.recipe"),
        ([replace(GOOD, recipe={"?": 100.0})], {}, "orders.0.recipe.?"),
        ([replace(GOOD, recipe={"UAN32": 101.0, "WATER": -1.0})], {}, "orders.0.recipe.WATER"),
        (
            [replace(GOOD, may_change=True, wishes=(NutrientWish("N", 33.0),))],
            {},
            "orders.0.recipe",
        ),
        (
            [replace(GOOD, may_change=True, wishes=(NutrientWish("gold", 33.0),))],
            {},
            "targets.0.nutrient",
        ),
    ],
)
def test_a_wrong_question_is_refused_by_field(asked, on_hand, field):
    with pytest.raises(BadProblem) as refused:
        allocate(asked, STOCKS, on_hand)
    assert field in [error.field for error in refused.value.errors]


def test_an_order_whose_own_recipe_breaks_a_rule_is_not_changed_but_refused():
    apart = CompatibilityRule("nitrate", "water", Effect.BLOCKS, "Why.", "demo")
    asked = replace(GOOD, recipe={"UAN32": 50.0, "WATER": 50.0}, may_change=True)
    with pytest.raises(BadProblem, match="breaks a rule"):
        allocate([asked], STOCKS, {}, (apart,))


def test_a_stocks_own_minimum_binds_no_open_order():
    eager = (replace(UAN32, min_pct=10.0), *STOCKS[1:])
    asked = order("A", 100.0, {"WATER": 100.0}, may_change=True)
    assert allocate([asked], eager, plenty()).orders[0].made_lb == 100


def test_prices_and_contents_that_are_not_numbers_are_refused():
    bad = Stock("BAD", "Bad", 9.0, math.nan, {})
    with pytest.raises(BadProblem, match="cost_per_lb"):
        allocate([GOOD], (*STOCKS, bad), {})


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


def test_only_changeable_orders_bring_columns_of_their_own():
    stay, may = GOOD, replace(GOOD, may_change=True, wishes=(NutrientWish("N", 20.0),))
    held = np.zeros(len(STOCKS))
    # Two columns and a row an order, five of each stock and a wish for the changeable one.
    assert allocation_program([stay], STOCKS, held, ()).shape == (1 + 5, 2)
    assert allocation_program([stay, may], STOCKS, held, ()).shape == (2 + 1 + 5, 4 + 5)


def test_orders_alike_share_the_columns_of_their_recipe():
    may = replace(GOOD, may_change=True, wishes=(NutrientWish("N", 20.0),))
    held = np.zeros(len(STOCKS))
    alike = [may, replace(may, mass_lb=7.0, penalty_per_lb=30.0)]
    other = replace(may, wishes=(NutrientWish("N", 21.0),))
    # Two orders: one more column for the share not made.
    assert allocation_program(alike, STOCKS, held, ()).shape == (2 + 5, 3 + 5)
    assert allocation_program([may, other], STOCKS, held, ()).shape == (4 + 5, 4 + 10)
