"""Plans with room: no weight on target misses anything.

By hand here: UAN 32 and water. The general cases are drawn at random and checked against plain
sums (``load_draws``), the least cost against CBC, a solver that is not ours.
"""

import itertools
import math
from dataclasses import replace

import numpy as np
import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from formulas.engine import (
    BadProblem,
    BlendProblem,
    NutrientWish,
    SlowReleaseWish,
    Solved,
    StockLimit,
    solve,
)
from formulas.engine.plant.load import (
    FineScale,
    Heel,
    LoadQuestion,
    LoadScale,
    LoadStep,
    ScaleKind,
)
from formulas.engine.plant.not_weighable import NotWeighable
from formulas.engine.plant.with_room import broken_for, plan_with_room
from formulas.engine.result import Share
from formulas.engine.wishes import Side, WishId, WishKind
from tests.engine.blend.strategies import problems
from tests.engine.lawn_stocks import (
    HUM,
    KTHIO25,
    RULES,
    STOCKS,
    TRIAZONE,
    UAN32,
    WATER,
    stock,
)
from tests.engine.plant.load_draws import made
from tests.engine.plant.room_cases import SUMMER, UAN28, assert_holds, pounds

# Worked by hand.


def test_uan_and_water_by_hand():
    """28 parts of 32 % to 4 of water; with a division of room each, a little less water.

    At its worst the UAN is a division light and the water one heavy: 32 (u - 1) >= 28 (u + w).
    """
    question = LoadQuestion(UAN28, 1000.0, tolerance_pct=0.0)
    planned = plan_with_room(question)
    u, w = pounds(planned)["UAN32"], pounds(planned)["WATER"]
    assert 32 * (u - 1) >= 28 * (u + w)
    assert 32 * (u - 1) < 28 * (u + w + 1)
    assert {step.tolerance_lb for step in planned.steps} == {1.0}
    # At its lightest it still fills the tank, and not by more than a division or two.
    assert 1000 <= (u - 1) / 11.06 + (w - 1) / 8.34 <= 1000.3
    assert planned.least_gal == pytest.approx((u - 1) / 11.06 + (w - 1) / 8.34)
    assert planned.least_pct["N"] == pytest.approx(32 * (u - 1) / (u + w))
    assert planned.most_pct["N"] == pytest.approx(32 * (u + 1) / (u + w))
    assert planned.gap <= 1e-5


def test_half_a_percent_by_hand():
    planned = plan_with_room(LoadQuestion(UAN28, 1000.0))
    u, w = pounds(planned)["UAN32"], pounds(planned)["WATER"]
    off = {step.code: step.tolerance_lb for step in planned.steps}
    assert off == {"UAN32": math.floor(0.005 * u), "WATER": math.floor(0.005 * w)}
    light, heavy = u - off["UAN32"], w + off["WATER"]
    assert 32 * light / (light + heavy) >= 28 > 32 * light / (light + heavy + 1)
    assert planned.tolerance_pct == 0.5


def test_the_cost_of_the_room_by_hand():
    """Cost per gallon of the plan less that of 87.5 % UAN 32 and 12.5 % water."""
    planned = plan_with_room(LoadQuestion(UAN28, 1000.0))
    u, w = pounds(planned)["UAN32"], pounds(planned)["WATER"]
    plain = 0.875 * 0.17 / (0.875 / 11.06 + 0.125 / 8.34)
    with_room = u * 0.17 / (u / 11.06 + w / 8.34)
    assert planned.cost == pytest.approx(u * 0.17)
    assert planned.room_cost_per_gal == pytest.approx(with_room - plain)
    assert 0 < planned.room_cost_per_gal < 0.01 * plain


def test_room_that_costs_nothing_costs_nothing():
    """Far above its minimum the recipe given has room where it stands, so nothing moves."""
    recipe = (Share("UAN32", 90.0), Share("WATER", 10.0))
    question = LoadQuestion(
        BlendProblem((UAN32, WATER), (NutrientWish("N", 20.0),)), 1000.0, recipe=recipe
    )
    planned = plan_with_room(question)
    shares = {share.code: share.pct for share in planned.blend.shares}
    assert shares == pytest.approx({"UAN32": 90.0, "WATER": 10.0}, abs=0.02)
    assert planned.room_cost_per_gal == pytest.approx(0.0, abs=2e-4)
    assert planned.room_cost_per_gal >= 0.0


# Nothing on target misses.


@pytest.mark.parametrize(
    "question",
    [
        LoadQuestion(SUMMER, 265.0),
        LoadQuestion(SUMMER, 265.0, tolerance_pct=0.25),
        LoadQuestion(SUMMER, 1000.0, scale=LoadScale(5.0, FineScale(0.1, 100.0))),
        LoadQuestion(SUMMER, 1000.0, capacity_gal=1005.0),
        LoadQuestion(SUMMER, 1000.0, capacity_gal=1000.0),
        LoadQuestion(SUMMER, 530.0, density_correction=1.004),
        LoadQuestion(replace(SUMMER, stock_limits=(StockLimit("WATER", 3.0, 4.0),)), 265.0),
        LoadQuestion(replace(SUMMER, smallest_charge_pct=2.0), 265.0),
        LoadQuestion(SUMMER, 265.0, printed_pct={"N": 24.0, "N.slow": 12.0, "S": 2.0}),
        LoadQuestion(
            BlendProblem(
                STOCKS,
                (NutrientWish("N", 18.0), NutrientWish("humic_acid", 1.0)),
                SlowReleaseWish(60.0),
                rules=RULES,
            ),
            265.0,
        ),
        LoadQuestion(
            BlendProblem(STOCKS, (NutrientWish("N", 18.0),), SlowReleaseWish(30.0, 30.5)), 500.0
        ),
    ],
)
def test_no_weight_on_target_misses_anything(question):
    assert_holds(question, plan_with_room(question), count=300)


@settings(max_examples=120, deadline=None, suppress_health_check=[HealthCheck.too_slow])
@given(
    problem=problems(),
    volume=st.sampled_from([30.0, 265.0, 1000.0]),
    scale=st.sampled_from(
        [LoadScale(), LoadScale(0.5), LoadScale(5.0, FineScale(0.1, 100.0)), LoadScale(2.0)]
    ),
    tolerance=st.sampled_from([0.0, 0.2, 0.5, 1.0]),
    seed=st.integers(0, 10**6),
)
def test_no_draw_misses_whatever_is_asked(problem, volume, scale, tolerance, seed):
    question = LoadQuestion(problem, volume, scale=scale, tolerance_pct=tolerance)
    try:
        planned = plan_with_room(question)
    except NotWeighable:
        return
    assert_holds(question, planned, seed)
    assert planned.tolerance_pct <= tolerance
    assert planned.room_cost_per_gal >= 0.0
    codes = {step.code for step in planned.steps}
    assert problem.most_stocks is None or len(codes - {"W"}) <= problem.most_stocks


def test_random_questions_are_mostly_planned():
    """So that the property above is about something."""
    rng, planned = np.random.default_rng(5), 0
    for _ in range(20):
        n = float(rng.integers(10, 25))
        problem = BlendProblem(
            STOCKS,
            (NutrientWish("N", n, n + 1), NutrientWish("K2O", float(rng.integers(1, 4)))),
            SlowReleaseWish(float(rng.choice([20.0, 40.0]))),
            rules=RULES,
        )
        plan = plan_with_room(LoadQuestion(problem, 265.0))
        planned += plan.tolerance_pct == 0.5
    assert planned >= 18


def test_the_bounds_are_reached_by_some_corner():
    """Least and most are no wider than they have to be: some corner has each of them."""
    question = LoadQuestion(SUMMER, 265.0)
    planned = plan_with_room(question)
    weight = np.array([step.weight_lb for step in planned.steps])
    off = np.array([step.tolerance_lb for step in planned.steps])
    corners = [
        made(question, planned, weight + off * np.array(signs))
        for signs in itertools.product([-1.0, 1.0], repeat=len(off))
    ]
    for key, least in planned.least_pct.items():
        found = [content(key) for content, _, _ in corners]
        assert min(found) == pytest.approx(least, abs=1e-10)
        assert max(found) == pytest.approx(planned.most_pct[key], abs=1e-10)
    slow = [share for _, share, _ in corners]
    assert min(slow) == pytest.approx(planned.least_slow_release_pct, abs=1e-9)
    assert min(gallons for _, _, gallons in corners) == pytest.approx(planned.least_gal)


def test_a_maximum_is_a_guard_like_a_minimum():
    """P2O5 at most 0.67 (a state's "phosphorus free" is below 1): never planned above it."""
    app = stock("APP", 11.7, 0.4, {"N.ammoniacal": 10.0, "P2O5": 34.0})
    problem = BlendProblem(
        (UAN32, app, WATER), (NutrientWish("N", 20.0), NutrientWish("P2O5", 0.5, 0.67))
    )
    question = LoadQuestion(problem, 265.0, scale=LoadScale(5.0))
    planned = plan_with_room(question)
    assert planned.most_pct["P2O5"] <= 0.67 + 1e-9
    assert planned.least_pct["P2O5"] >= 0.5 - 1e-9
    assert_holds(question, planned)


# The label.


@pytest.mark.parametrize("n", [20.0, 22.0, 24.0])
@pytest.mark.parametrize("slow", [25.0, 50.0])
def test_the_printed_forms_add_up_to_the_wished_total(n, slow):
    problem = BlendProblem(STOCKS, (NutrientWish("N", n),), SlowReleaseWish(slow), rules=RULES)
    planned = plan_with_room(LoadQuestion(problem, 265.0))
    printed = {
        form: math.floor(pct * 100 + 1e-7) / 100
        for form, pct in planned.least_pct.items()
        if form.startswith("N.")
    }
    assert sum(printed.values()) >= n - 1e-9
    assert printed["N.slow"] >= slow / 100 * n - 1e-9
    # The total alone would have been kept with less: that is what the aim is for.
    assert planned.least_pct["N"] > n


def test_a_slow_share_without_a_total_holds_in_print_too():
    problem = BlendProblem(
        (UAN32, TRIAZONE, WATER), (NutrientWish("N.urea", 5.0),), SlowReleaseWish(40.0)
    )
    planned = plan_with_room(LoadQuestion(problem, 265.0))
    printed = [
        (form, math.floor(pct * 100 + 1e-7) / 100)
        for form, pct in planned.least_pct.items()
        if form.startswith("N.")
    ]
    total = sum(pct for _, pct in printed)
    assert dict(printed)["N.slow"] >= 0.4 * total - 1e-9


def test_lines_printed_already_are_kept():
    recipe = solve(SUMMER).blend.shares
    printed = {"N": 23.5, "N.slow": 11.9, "S": 2.0}
    question = LoadQuestion(
        BlendProblem(STOCKS, rules=RULES), 265.0, recipe=recipe, printed_pct=printed
    )
    planned = plan_with_room(question)
    for key, pct in printed.items():
        assert planned.least_pct[key] >= pct - 1e-9
    tight = replace(question, printed_pct={**printed, "S": 2.1})
    more = plan_with_room(tight)
    assert pounds(more)["KTHIO25"] > pounds(planned)["KTHIO25"]
    assert_holds(tight, more)


# Limits of the search, tolerances, other lots.


@pytest.mark.parametrize("seed", range(6))
def test_a_search_cut_short_still_answers_with_weights_that_hold(seed):
    rng = np.random.default_rng(seed)
    n = float(rng.integers(14, 24))
    problem = BlendProblem(
        STOCKS,
        (NutrientWish("N", n, n + 1), NutrientWish("K2O", 3.0), NutrientWish("Fe", 0.2)),
        SlowReleaseWish(40.0),
        rules=RULES,
    )
    question = LoadQuestion(problem, 265.0, scale=LoadScale(2.0))
    short = plan_with_room(question, most_nodes=0)
    whole = plan_with_room(question)
    assert_holds(question, short)
    assert 0.0 <= short.gap < 0.02
    assert whole.gap <= 1e-5
    # What the gap allows is no less than what there is to be had.
    assert whole.cost >= short.cost * (1 - short.gap) * (1 - 2e-3)


def test_the_same_question_has_the_same_answer():
    assert plan_with_room(LoadQuestion(SUMMER, 265.0)) == plan_with_room(
        LoadQuestion(SUMMER, 265.0)
    )


def test_a_finer_tolerance_costs_less():
    per_gal = [
        planned.cost / planned.volume_gal
        for planned in (
            plan_with_room(LoadQuestion(SUMMER, 1000.0, tolerance_pct=pct))
            for pct in (0.0, 0.25, 0.5, 1.0)
        )
    ]
    assert per_gal == sorted(per_gal)
    assert per_gal[0] < per_gal[-1] * 0.99


def test_another_lot_breaks_what_the_weights_promise():
    question = LoadQuestion(SUMMER, 265.0)
    planned = plan_with_room(question)
    weak = replace(KTHIO25, analysis={"K2O": 24.5, "S": 17.0})
    stocks = tuple(weak if each.code == weak.code else each for each in STOCKS)
    lot = replace(question, problem=replace(SUMMER, stocks=stocks))
    assert broken_for(lot, planned.steps) == (WishId(WishKind.NUTRIENT, Side.LEAST, "K2O", 1),)
    heavier = [
        replace(step, tolerance_lb=4 * step.tolerance_lb) if step.code == "WATER" else step
        for step in planned.steps
    ]
    assert WishKind.SLOW_RELEASE not in {limit.kind for limit in broken_for(question, heavier)}
    with pytest.raises(BadProblem) as refused:
        broken_for(question, [LoadStep("NONE", 1.0, 1.0, ScaleKind.MAIN, 1.0)])
    assert [error.field for error in refused.value.errors] == ["steps.0.code"]


@pytest.mark.parametrize(
    ("wrong", "field"),
    [
        ({"volume_gal": 0.0}, "load.volume_gal"),
        ({"volume_gal": float("nan")}, "load.volume_gal"),
        ({"tolerance_pct": -0.1}, "load.tolerance_pct"),
        ({"tolerance_pct": 11.0}, "load.tolerance_pct"),
        ({"scale": LoadScale(0.0)}, "load.scale_step_lb"),
        ({"scale": LoadScale(1.0, FineScale(0.0, 10.0))}, "load.fine_scale.step_lb"),
        ({"scale": LoadScale(1.0, FineScale(0.1, -1.0))}, "load.fine_scale.max_lb"),
        ({"capacity_gal": -1.0}, "load.capacity_gal"),
        ({"heel": Heel(10.0, 265.0, {})}, "load.heel.volume_gal"),
        ({"heel": Heel(10.0, 1.0, {"N": 3.0})}, "load.heel.analysis.N"),
        ({"heel": Heel(10.0, 1.0, {"Xy": 3.0})}, "load.heel.analysis.Xy"),
        ({"heel": Heel(10.0, 1.0, {"S": 103.0})}, "load.heel.analysis.S"),
        ({"heel": Heel(0.0, 1.0, {})}, "load.heel.mass_lb"),
        ({"recipe": (Share("NONE", 100.0),)}, "recipe.0.code"),
        ({"recipe": (Share("UAN32", 90.0),)}, "recipe"),
        ({"printed_pct": {"Xy": 1.0}}, "printed.Xy"),
        ({"printed_pct": {"S": -1.0}}, "printed.S"),
        ({"problem": replace(SUMMER, wishes=(NutrientWish("Xy", 1.0),))}, "targets.0.nutrient"),
    ],
)
def test_wrong_input_is_refused_with_the_field_named(wrong, field):
    with pytest.raises(BadProblem) as refused:
        plan_with_room(replace(LoadQuestion(SUMMER, 265.0), **wrong))
    assert [error.field for error in refused.value.errors] == [field]


def test_the_plain_optimum_needs_room_at_all():
    """The unmoved optimum would break its own wish at once: otherwise nothing here is tested."""
    question = LoadQuestion(SUMMER, 265.0, tolerance_pct=0.0)
    answer = solve(SUMMER)
    assert isinstance(answer, Solved)
    blend = answer.blend
    mass = 265.0 * blend.density_lb_per_gal
    steps = [
        LoadStep(share.code, share.pct / 100 * mass, 1.0, ScaleKind.MAIN, 1.0)
        for share in blend.shares
    ]
    kinds = {limit.kind for limit in broken_for(question, steps)}
    assert {WishKind.NUTRIENT, WishKind.SLOW_RELEASE} <= kinds
    assert HUM.code not in {step.code for step in steps}
