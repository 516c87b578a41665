"""Formulating with a margin: the stated chances come out when batches are really drawn."""

from dataclasses import replace
from functools import partial
from math import sqrt
from statistics import NormalDist

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from formulas.engine import (
    BadProblem,
    BlendProblem,
    EngineFailure,
    Fill,
    NutrientWish,
    SlowReleaseWish,
    Stock,
    solve,
)
from formulas.engine.blend import margin as margin_module
from formulas.engine.blend.margin import (
    MarginOutOfReach,
    MarginSolved,
    guaranteed_minima,
    raised,
)
from formulas.engine.blend.margin_spread import (
    SLOW_RELEASE,
    AssaySpread,
    ScaleSpread,
    Spreads,
    spread_pct,
)
from tests.engine.blend.strategies import linear_problems
from tests.engine.lawn_stocks import SUMMER, WATER, shares
from tests.engine.said import said

#: 98 % is the uniform index (8 CCR Colorado Part 2.2).
solve_with_margin = partial(margin_module.solve_with_margin, index_floor_pct=98.0)

DRAWS = 10_000
#: Demo figures: one percent of strength, a little of each form, a scale good to 2 lb and 0.2 %.
SPREADS = Spreads(
    usual_assay=AssaySpread(1.0, {"K2O": 0.8, "N": 0.5}),
    scale=ScaleSpread(absolute_lb=2.0, relative_pct=0.2),
    assay={"TRIAZONE": AssaySpread(0.6, {"N.slow": 1.5, "N.urea": 2.0})},
)
POTASH = Stock("K20", "Potash 20 %", 10.0, 0.30, {"K2O": 20.0})
NO_SCALE = ScaleSpread()


def no_allowance(key, guarantee_pct):
    return None


def small_allowance(key, guarantee_pct):
    """Invented, so that the chances stay large enough to be counted."""
    return 0.01 * guarantee_pct


def drawn(problem, blend, spreads, *, draws=DRAWS, seed=20260401):
    """As-made contents of ``draws`` batches, drawn from the meaning of the spreads alone."""
    rng = np.random.default_rng(seed)
    batch_lb = problem.fill.volume_gal * blend.density_lb_per_gal
    made, mass = {}, np.zeros(draws)
    for share in blend.shares:
        stock = next(s for s in problem.stocks if s.code == share.code)
        assay = spreads.assay.get(stock.code, spreads.usual_assay)
        charge = share.pct / 100 * batch_lb
        weighed = charge + rng.normal(0, 1, draws) * spreads.scale.absolute_lb
        weighed += charge * spreads.scale.relative_pct / 100 * rng.normal(0, 1, draws)
        mass += weighed
        strength = assay.strength_rsd_pct / 100 * rng.normal(0, 1, draws)
        nitrogen = assay.content_rsd_pct.get("N", 0) / 100 * rng.normal(0, 1, draws)
        for key, content in stock.analysis.items():
            own = assay.content_rsd_pct.get(key, 0) / 100 * rng.normal(0, 1, draws)
            factor = 1 + strength + own + (nitrogen if key.startswith("N.") else 0)
            made[key] = made.get(key, 0) + weighed * content / 100 * factor
    pct = {key: 100 * lb / mass for key, lb in made.items()}
    pct["N"] = sum(value for key, value in pct.items() if key.startswith("N."))
    pct[SLOW_RELEASE] = 100 * pct["N.slow"] / pct["N"]
    return pct


def within_sampling_error(stated, counted, draws=DRAWS):
    """Four standard deviations of a binomial count."""
    return abs(counted - stated) <= 4 * sqrt(stated * (1 - stated) / draws)


@pytest.fixture(scope="module")
def summer():
    found = solve_with_margin(SUMMER, SPREADS, allowance=small_allowance, z=1.0)
    assert isinstance(found, MarginSolved)
    return found


@pytest.fixture(scope="module")
def batches(summer):
    return drawn(SUMMER, summer.answer.blend, SPREADS)


def test_drawn_batches_miss_each_guarantee_as_often_as_stated(summer, batches):
    assert {g.key for g in summer.guarantees} == {"N", "K2O", SLOW_RELEASE}
    for guarantee in summer.guarantees:
        made = batches[guarantee.key]
        below = float(np.mean(made < guarantee.guarantee_pct))
        deficient = float(np.mean(made < guarantee.guarantee_pct - guarantee.allowance_pct))
        assert within_sampling_error(guarantee.chance_below_guarantee, below), guarantee.key
        assert within_sampling_error(guarantee.chance_deficient, deficient), guarantee.key
        assert 0.001 < guarantee.chance_deficient < guarantee.chance_below_guarantee


def test_the_drawing_would_notice_a_spread_that_is_wrong(summer, batches):
    """The test of the test: a sigma off by 15 %, or scatter left out, lies beyond the error."""
    for guarantee in summer.guarantees:
        below = float(np.mean(batches[guarantee.key] < guarantee.guarantee_pct))
        for factor in (0.85, 1.15):
            short = guarantee.expected_pct - guarantee.guarantee_pct
            wrong = NormalDist().cdf(-short / (factor * guarantee.sigma_pct))
            assert not within_sampling_error(wrong, below), guarantee.key
    no_scale = drawn(SUMMER, summer.answer.blend, replace(SPREADS, scale=NO_SCALE))
    potash = next(g for g in summer.guarantees if g.key == "K2O")
    counted = float(np.mean(no_scale["K2O"] < potash.guarantee_pct))
    assert not within_sampling_error(potash.chance_below_guarantee, counted)


def test_every_spread_is_that_of_drawn_batches(summer, batches):
    blend = summer.answer.blend
    batch_lb = 265.0 * blend.density_lb_per_gal
    for key, sigma in spread_pct(blend, SUMMER.stocks, SPREADS, batch_lb=batch_lb).items():
        # The relative error of a standard deviation from n draws is 1 / sqrt(2 n) = 0.7 %.
        assert np.std(batches[key]) == pytest.approx(sigma, rel=0.03), key


def test_the_margin_stands_at_the_blend_it_gave(summer):
    blend = summer.answer.blend
    sigmas = spread_pct(blend, SUMMER.stocks, SPREADS, batch_lb=265.0 * blend.density_lb_per_gal)
    asked = {"N": 24.0, "K2O": 3.0, SLOW_RELEASE: 50.0}
    held = {**blend.analysis, SLOW_RELEASE: blend.slow_release_pct}
    for guarantee in summer.guarantees:
        key = guarantee.key
        assert guarantee.guarantee_pct == asked[key]
        assert guarantee.aim_pct == pytest.approx(asked[key] + sigmas[key], abs=2e-6)
        assert held[key] >= guarantee.aim_pct - 1e-6
        assert guarantee.chance_below_guarantee == pytest.approx(0.15866, abs=1e-4)
    assert summer.is_tight
    assert summer.rounds <= 10


def test_one_stock_and_water_come_out_as_by_hand():
    # 10 % K2O from 20 % at 2 % relative: x = aim / 20, sigma = 0.02 aim, aim = 10 + 2 x 0.02 aim
    # = 10 / 0.96 = 10.41667; share 52.08333 %; cost 0.30 x 0.0208333 = 0.00625 $/lb more.
    problem = BlendProblem((POTASH, WATER), (NutrientWish("K2O", 10.0),))
    found = solve_with_margin(
        problem, Spreads(AssaySpread(2.0), NO_SCALE), allowance=no_allowance, z=2.0
    )
    (potash,) = found.guarantees
    assert potash.expected_pct == pytest.approx(10 / 0.96, abs=1e-5)
    assert potash.sigma_pct == pytest.approx(0.2 / 0.96, abs=1e-6)
    assert potash.chance_below_guarantee == pytest.approx(0.022750, abs=1e-5)
    assert (potash.allowance_pct, potash.chance_deficient) == (None, potash.chance_below_guarantee)
    assert shares(found.answer.blend)["K20"] == pytest.approx(10 / 0.96 / 0.2, abs=1e-4)
    assert found.margin_cost_per_lb == pytest.approx(0.00625, abs=1e-6)


@pytest.mark.parametrize("chance", [0.05, 0.2])
def test_drawn_batches_miss_any_guarantee_as_often_as_was_asked(chance):
    """Three guarantees that share causes: each alone at the quantile would miss too often."""
    found = solve_with_margin(SUMMER, SPREADS, allowance=small_allowance, chance=chance)
    made = drawn(SUMMER, found.answer.blend, SPREADS)

    def missed(allowed):
        return float(
            np.mean(
                np.any(
                    [
                        made[g.key] < g.guarantee_pct - allowed * (g.allowance_pct or 0)
                        for g in found.guarantees
                    ],
                    axis=0,
                )
            )
        )

    assert found.chance_any_missed <= chance * 1.00001
    assert within_sampling_error(found.chance_any_missed, missed(0))
    assert within_sampling_error(found.chance_deficient_any, missed(1))
    assert found.z > -NormalDist().inv_cdf(chance)
    alone = solve_with_margin(
        SUMMER, SPREADS, allowance=no_allowance, z=-NormalDist().inv_cdf(chance)
    )
    assert alone.chance_any_missed > 1.3 * chance
    assert found.margin_cost_per_lb > alone.margin_cost_per_lb


def test_drawn_batches_fall_below_the_index_as_often_as_stated(summer, batches):
    """98 % of the guaranteed N, P2O5 and K2O together (8 CCR Colorado Part 2.2)."""
    guaranteed = {g.key: g.guarantee_pct for g in summer.guarantees if g.key != SLOW_RELEASE}
    wide = replace(SPREADS, usual_assay=AssaySpread(3.0, {"N": 2.0}))
    found = solve_with_margin(SUMMER, wide, allowance=no_allowance, z=0.5)
    made = drawn(SUMMER, found.answer.blend, wide)
    sums = sum(made[key] for key in guaranteed)
    counted = float(np.mean(sums < 0.98 * sum(guaranteed.values())))
    assert within_sampling_error(found.chance_index_low, counted)
    assert counted > 0.005


def test_without_a_guaranteed_primary_nutrient_there_is_no_index():
    iron = Stock("FE", "Iron solution", 10.0, 0.3, {"Fe": 5.0})
    found = solve_with_margin(
        BlendProblem((iron, WATER), (NutrientWish("Fe", 1.0),)),
        SPREADS,
        allowance=no_allowance,
        z=1.0,
    )
    assert found.chance_index_low is None


def test_one_guarantee_needs_the_quantile_of_its_chance():
    problem = BlendProblem((POTASH, WATER), (NutrientWish("K2O", 5.0),), fill=SUMMER.fill)
    found = solve_with_margin(problem, SPREADS, allowance=no_allowance, chance=0.05)
    # 1.6449 is the 95 % quantile of the standard normal distribution (any printed table).
    assert found.z == pytest.approx(1.644854, abs=1e-5)
    assert found.chance_any_missed == pytest.approx(0.05, rel=1e-3)


def test_the_allowance_is_asked_with_the_guarantee_and_lowers_the_chance():
    asked = {}

    def allowance(key, guarantee_pct):
        asked[key] = guarantee_pct
        return 0.5 if key == "N" else None

    found = solve_with_margin(SUMMER, SPREADS, allowance=allowance, z=1.0)
    assert asked == {"N": 24.0, "K2O": 3.0, SLOW_RELEASE: 50.0}
    nitrogen, potash = found.guarantees[:2]
    sigmas_short = (nitrogen.expected_pct - 23.5) / nitrogen.sigma_pct
    assert nitrogen.chance_deficient == pytest.approx(NormalDist().cdf(-sigmas_short))
    assert potash.chance_deficient == potash.chance_below_guarantee


def test_without_scatter_or_without_margin_the_blend_is_the_plain_one():
    plain = solve(SUMMER)
    still = Spreads(AssaySpread(), NO_SCALE)
    for found in (
        solve_with_margin(SUMMER, still, allowance=no_allowance, z=2.0),
        solve_with_margin(SUMMER, SPREADS, allowance=no_allowance, z=0.0),
    ):
        assert shares(found.answer.blend) == shares(plain.blend)
        assert found.margin_cost_per_lb == 0.0
    even = solve_with_margin(SUMMER, SPREADS, allowance=no_allowance, chance=0.5)
    assert even.chance_any_missed == pytest.approx(0.5, abs=1e-3)
    sure = solve_with_margin(SUMMER, still, allowance=no_allowance, z=2.0)
    assert {g.chance_below_guarantee for g in sure.guarantees} == {0.0}


def test_a_larger_margin_costs_more():
    costs = [
        solve_with_margin(SUMMER, SPREADS, allowance=no_allowance, z=z).margin_cost_per_lb
        for z in (0.0, 1.0, 2.0)
    ]
    assert costs == sorted(costs)
    assert costs[0] == 0.0 < costs[1] < costs[2]


def test_a_recipe_that_jumps_between_stocks_keeps_its_margin_and_says_it_is_not_tight():
    # One stock may be used. The cheap one scatters too much to hold 9.8 % with a margin; the
    # dear one needs none, and without a margin the cheap one is taken again.
    cheap = Stock("CHEAP", "Potash 10 %", 10.0, 0.1, {"K2O": 10.0})
    dear = Stock("DEAR", "Potash 20 %", 10.0, 1.0, {"K2O": 20.0})
    problem = BlendProblem((cheap, dear, WATER), (NutrientWish("K2O", 9.8),), most_stocks=1)
    spreads = Spreads(AssaySpread(5.0), NO_SCALE, {"DEAR": AssaySpread()})
    found = solve_with_margin(problem, spreads, allowance=no_allowance, z=2.0)
    assert isinstance(found, MarginSolved)
    assert not found.is_tight
    assert "DEAR" in shares(found.answer.blend)
    (potash,) = found.guarantees
    assert potash.expected_pct >= 9.8
    assert potash.chance_below_guarantee == 0.0


def test_a_steadier_recipe_is_found_on_the_way_back_from_aims_beyond_reach():
    # The cheap stock would need 9.8 + 2 x 0.49 = 10.78 %, more than either stock holds; the dear
    # one does not scatter and keeps 9.8 % as it is.
    cheap = Stock("CHEAP", "Potash 10 %", 10.0, 0.1, {"K2O": 10.0})
    dear = Stock("DEAR", "Potash 10.2 %", 10.0, 1.0, {"K2O": 10.2})
    problem = BlendProblem((cheap, dear, WATER), (NutrientWish("K2O", 9.8),), most_stocks=1)
    spreads = Spreads(AssaySpread(5.0), NO_SCALE, {"DEAR": AssaySpread()})
    found = solve_with_margin(problem, spreads, allowance=no_allowance, z=2.0)
    assert isinstance(found, MarginSolved)
    assert not found.is_tight
    assert set(shares(found.answer.blend)) <= {"DEAR", "WATER"}
    (potash,) = found.guarantees
    assert 9.8 <= potash.aim_pct <= potash.expected_pct + 1e-6
    assert (potash.sigma_pct, potash.chance_below_guarantee) == (0.0, 0.0)


def test_margins_that_do_not_settle_are_a_failure_and_no_blend(monkeypatch):
    monkeypatch.setattr(margin_module, "_ROUNDS", 2)
    with pytest.raises(EngineFailure, match="did not settle"):
        solve_with_margin(SUMMER, SPREADS, allowance=no_allowance, z=2.0)


def test_wishes_that_cannot_be_met_are_explained_as_themselves():
    problem = replace(SUMMER, wishes=(NutrientWish("N", 40.0),))
    found = solve_with_margin(problem, SPREADS, allowance=no_allowance, z=1.0)
    assert isinstance(found, MarginOutOfReach)
    assert found.without_margin is None
    assert found.aims_pct == {"N": 40.0, SLOW_RELEASE: 50.0}
    assert found.answer.conflict


def test_wishes_that_only_just_can_be_met_are_out_of_reach_with_a_margin():
    problem = BlendProblem((POTASH, WATER), (NutrientWish("K2O", 19.9),))
    spreads = Spreads(AssaySpread(1.0), NO_SCALE)
    found = solve_with_margin(problem, spreads, allowance=no_allowance, z=2.0)
    assert isinstance(found, MarginOutOfReach)
    assert found.without_margin.blend.analysis["K2O"] == pytest.approx(19.9)
    assert found.aims_pct["K2O"] == pytest.approx(19.9 * 1.02)
    assert found.answer.reach[0].best == pytest.approx(20.0)


def test_an_aim_above_its_own_maximum_is_out_of_reach_in_words():
    problem = BlendProblem((POTASH, WATER), (NutrientWish("K2O", 10.0, 10.1),))
    spreads = Spreads(AssaySpread(2.0), NO_SCALE)
    found = solve_with_margin(problem, spreads, allowance=no_allowance, z=2.0)
    assert isinstance(found, MarginOutOfReach)
    aimed = raised(problem, found.aims_pct)
    assert said(aimed, found.answer.conflict) == (
        "Soluble potash would have to aim at 10.4 % to keep its margin, above the largest 10.1 %",
    )


def test_a_share_of_the_only_nitrogen_stock_has_no_margin_to_keep_on_the_scale():
    # One nitrogen stock: neither its strength nor the scale changes what part of N is slow.
    slow = Stock("SLOW", "Half slow", 10.0, 0.3, {"N.urea": 10.0, "N.slow": 10.0})
    problem = BlendProblem(
        (slow, WATER), (NutrientWish("N", 10.0),), SlowReleaseWish(50.0), fill=Fill(mass_lb=2000.0)
    )
    spreads = Spreads(AssaySpread(2.0, {"N": 1.0}), ScaleSpread(5.0, 0.5))
    found = solve_with_margin(problem, spreads, allowance=no_allowance, z=2.0)
    sigma = {g.key: g.sigma_pct for g in found.guarantees}
    assert sigma[SLOW_RELEASE] == pytest.approx(0.0, abs=1e-12)
    assert sigma["N"] > 0.2


def test_a_blend_without_nitrogen_promises_no_share_of_it():
    problem = BlendProblem((WATER,), (NutrientWish("P2O5", 0.0),), SlowReleaseWish(22.5))
    spreads = Spreads(AssaySpread(1.0), NO_SCALE)
    found = solve_with_margin(problem, spreads, allowance=no_allowance, z=1.0)
    assert [g.key for g in found.guarantees] == []


@given(linear_problems(), st.floats(0.5, 2.5))
def test_whatever_is_solved_keeps_every_margin_and_is_never_cheaper(problem, z):
    problem = replace(problem, fill=Fill(volume_gal=265.0))
    spreads = Spreads(AssaySpread(0.5, {"K2O": 1.0}), ScaleSpread(1.0, 0.1))
    found = solve_with_margin(problem, spreads, allowance=no_allowance, z=z)
    if isinstance(found, MarginOutOfReach):
        assert solve(problem).blend == found.without_margin.blend
        return
    assert found.margin_cost_per_lb >= -1e-9
    for g in found.guarantees:
        assert g.expected_pct >= g.guarantee_pct + z * g.sigma_pct - 3e-6
        assert g.chance_below_guarantee <= NormalDist().cdf(-z) + 1e-3


@pytest.mark.parametrize(
    ("asked", "field"),
    [
        ({}, "z"),
        ({"z": 1.0, "chance": 0.1}, "z"),
        ({"z": -0.1}, "z"),
        ({"z": float("nan")}, "z"),
        ({"chance": 0.0}, "chance"),
        ({"chance": 0.6}, "chance"),
        ({"chance": float("nan")}, "chance"),
    ],
)
def test_a_margin_that_means_nothing_is_refused_by_name(asked, field):
    with pytest.raises(BadProblem) as refusal:
        solve_with_margin(SUMMER, SPREADS, allowance=no_allowance, **asked)
    assert [error.field for error in refusal.value.errors] == [field]


@pytest.mark.parametrize("wrong", [-0.1, float("nan"), float("inf")])
def test_an_allowance_that_means_nothing_is_refused(wrong):
    with pytest.raises(BadProblem, match=r"allowance\.N"):
        solve_with_margin(SUMMER, SPREADS, allowance=lambda key, pct: wrong, z=1.0)


def test_guarantees_are_the_strictest_minimum_of_each_nutrient_and_none_of_zero():
    wishes = (
        NutrientWish("N", 24.0),
        NutrientWish("N", 20.0),
        NutrientWish("P2O5", None, 1.0),
        NutrientWish("K2O", 0.0),
    )
    problem = replace(SUMMER, wishes=wishes, slow_release=SlowReleaseWish(None, 60.0))
    assert guaranteed_minima(problem) == {"N": 24.0}
    problem = replace(problem, slow_release=SlowReleaseWish(30.0, 60.0))
    assert guaranteed_minima(problem) == {"N": 24.0, SLOW_RELEASE: 30.0}
