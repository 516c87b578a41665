"""Extension arithmetic of liquid fertilizer, and recipes somebody else made."""

from dataclasses import replace

import pytest

from formulas.engine import (
    BadProblem,
    BlendProblem,
    Fill,
    NutrientWish,
    Share,
    evaluate,
    solve,
)
from formulas.engine.density import blend_density_lb_per_gal, mass_lb_for, volume_gal_for
from tests.engine.lawn_stocks import (
    FEDTA,
    FES,
    HUM,
    RULES,
    STOCKS,
    TRIAZONE,
    UAN32,
    WATER,
    shares,
    stock,
)

# Densities at 60 F: UAN 28 from Virginia Cooperative Extension SPES-199NP; UAN 32 and 10-34-0
# from the extension sheet "Estimated physical characteristics of fertilizer material"
# (studylib.net/doc/18119690); water 60 F from IAPWS-95 (PyPI iapws).
UAN28 = stock("UAN28", 10.67, 0.16, {"N.urea": 14.0, "N.nitrate": 7.0, "N.ammoniacal": 7.0})
APP = stock("APP", 11.65, 0.30, {"N.ammoniacal": 10.0, "P2O5": 34.0})
WATER60 = replace(WATER, density_lb_per_gal=8.3372)


def by_weight(**pounds):
    total = sum(pounds.values())
    return [Share(code, 100.0 * lb / total) for code, lb in pounds.items()]


def test_half_and_half_by_volume_of_uan_28_and_10_34_0():
    """50 gal + 50 gal: 1,116 lb, 18.6-17.7-0, 11.16 lb/gal; computed from the densities above."""
    pounds = {"UAN28": 50 * 10.67, "APP": 50 * 11.65}
    assert sum(pounds.values()) == pytest.approx(1116, abs=0.1)
    blend = evaluate([UAN28, APP], by_weight(**pounds))
    assert blend.analysis["N"] == pytest.approx(18.6, abs=0.05)
    assert blend.analysis["P2O5"] == pytest.approx(17.7, abs=0.05)
    assert blend.density_lb_per_gal == pytest.approx(11.16, abs=0.005)


def test_the_slow_share_of_a_triazone_and_uan_blend():
    """100 lb of 28-0-0 (72 % of N slow) + 50 lb UAN 32: 20.16 of 44.0 lb N is 45.8 %."""
    blend = evaluate([TRIAZONE, UAN32], by_weight(TRIAZONE=100, UAN32=50))
    assert blend.slow_release_pct == pytest.approx(45.8, abs=0.05)
    assert blend.analysis["N"] * 1.5 == pytest.approx(44.0)


def test_pearson_square_uan_32_to_28():
    """Parts of the strong one 28 - 0, of water 32 - 28 (softdatapublisher.com p. 112): 28 : 4."""
    answer = solve(BlendProblem((UAN32, WATER), (NutrientWish("N", 28.0, 28.0),)))
    pct = shares(answer.blend)
    assert pct["UAN32"] / pct["WATER"] == pytest.approx(28 / 4)


def test_one_ton_of_28_from_32():
    """1,750 lb UAN 32 (158.2 gal) + 250 lb water (30.0 gal), from the densities above."""
    answer = solve(BlendProblem((UAN32, WATER60), (NutrientWish("N", 28.0),)))
    pct = shares(answer.blend)
    assert pct["UAN32"] * 20 == pytest.approx(1750)
    assert pct["UAN32"] * 20 / 11.06 == pytest.approx(158.2, abs=0.05)
    assert pct["WATER"] * 20 / 8.3372 == pytest.approx(30.0, abs=0.05)


def test_uan_32_to_30_per_100_lb():
    """6.67 lb of water per 100 lb of UAN 32 (Pearson square)."""
    pct = shares(solve(BlendProblem((UAN32, WATER), (NutrientWish("N", 30.0),))).blend)
    assert 100 * pct["WATER"] / pct["UAN32"] == pytest.approx(6.67, abs=0.005)


def test_nitrogen_per_gallon_of_uan_28():
    """2.99 lb N per gal at 60 F (Virginia Cooperative Extension SPES-199NP)."""
    blend = evaluate([UAN28], [Share("UAN28", 100.0)])
    assert blend.analysis["N"] / 100 * blend.density_lb_per_gal == pytest.approx(2.99, abs=0.005)


def test_volume_of_uan_28_cut_from_32_is_within_half_a_percent():
    """100 gal (1,106 lb) + 18.95 gal water makes 118.46 gal by the published densities."""
    density = blend_density_lb_per_gal(
        {"UAN32": UAN32, "W": replace(WATER60, code="W")},
        [Share("UAN32", 1106.0), Share("W", 158.0)],
    )
    assert 1264 / density == pytest.approx(118.46, rel=0.005)


def test_mass_and_volume_of_a_fill():
    assert mass_lb_for(Fill(volume_gal=100.0), 10.67) == pytest.approx(1067.0)
    assert mass_lb_for(Fill(mass_lb=1067.0), 10.67) == 1067.0
    assert volume_gal_for(Fill(mass_lb=1067.0), 10.67) == pytest.approx(100.0)
    assert volume_gal_for(Fill(volume_gal=100.0), 10.67) == 100.0


def test_a_solved_blend_evaluates_to_itself():
    question = BlendProblem((UAN32, WATER), (NutrientWish("N", 28.0),))
    blend = solve(question).blend
    again = evaluate(question.stocks, blend.shares, fill=question.fill)
    assert again == blend


def findings(recipe, **extra):
    return {f.code: f for f in evaluate(STOCKS, recipe, RULES, **extra).findings}


def test_a_blocked_pair_is_a_stop():
    found = findings([Share("TRIAZONE", 90.0), Share("FES", 10.0)])
    assert found["compatibility"].severity == "stop"
    assert "Iron drops out." in found["compatibility"].message
    assert found["compatibility"].source == "common practice, no source"


def test_a_limit_within_is_told_and_beyond_is_a_stop():
    assert findings([Share("TRIAZONE", 50.0), Share("HUM", 50.0)])["compatibility_limit"]
    beyond = findings([Share("TRIAZONE", 49.0), Share("HUM", 51.0)])
    assert beyond["compatibility"].severity == "stop"
    assert "compatibility_limit" not in beyond


def test_the_most_severe_finding_comes_first():
    recipe = [
        Share("TRIAZONE", 50.0),
        Share("FES", 5.0),
        Share("UAN32", 20.0),
        Share("KTHIO25", 25.0),
    ]
    severities = [finding.severity for finding in evaluate(STOCKS, recipe, RULES).findings]
    assert severities == ["stop", "caution", "info"]


def test_a_charge_below_its_scale_step_is_told():
    recipe = [Share("UAN32", 99.9), Share("FEDTA", 0.1)]
    found = findings(recipe, fill=Fill(mass_lb=500.0))
    assert "0.5 lb is less than one step" in found["below_scale_step"].message
    assert "below_scale_step" not in findings(recipe, fill=Fill(mass_lb=2000.0))
    assert "below_scale_step" not in findings(recipe)


def test_a_blend_without_nitrogen_has_no_slow_release_share():
    blend = evaluate([FEDTA, WATER], [Share("FEDTA", 10.0), Share("WATER", 90.0)])
    assert blend.slow_release_pct is None
    assert blend.analysis == {"Fe": pytest.approx(0.45)}


@pytest.mark.parametrize(
    ("recipe", "fields"),
    [
        ([Share("NONE", 100.0)], ["recipe.0.code"]),
        ([Share("FES", 50.0), Share("FES", 50.0)], ["recipe.1.code"]),
        ([Share("FES", -1.0), Share("HUM", 101.0)], ["recipe.0.pct", "recipe.1.pct"]),
        ([Share("FES", float("nan"))], ["recipe.0.pct"]),
        ([Share("FES", 60.0), Share("HUM", 30.0)], ["recipe"]),
        ([], ["recipe"]),
    ],
)
def test_a_wrong_recipe_is_refused_with_the_field_named(recipe, fields):
    with pytest.raises(BadProblem) as refusal:
        evaluate([FES, HUM], recipe)
    assert [error.field for error in refusal.value.errors] == fields


def test_a_wrong_fill_is_refused():
    with pytest.raises(BadProblem, match=r"fill\.mass_lb"):
        evaluate([FES], [Share("FES", 100.0)], fill=Fill(mass_lb=0.0))
