"""The cold-storage screen says what may crystallise, and never that a batch will stay clear."""

from dataclasses import replace

import pytest
from hypothesis import given
from hypothesis import strategies as st

from formulas.engine import BadProblem, Share, Stock
from formulas.engine.storage.cold_storage import (
    ColdStock,
    ColdVerdict,
    SaltSolubility,
    SolubilityPoint,
    screen,
    solubility_g,
)
from formulas.reference import base_stocks
from formulas.reference.solubility import salts, water_pct

FACTS = {facts.code: facts for facts in base_stocks()}
SALTS = {salt.code: salt for salt in salts()}


def cold(code):
    facts = FACTS[code]
    made = Stock(
        code, facts.name, facts.density_lb_per_gal, 0.0, facts.analysis, traits=facts.traits
    )
    return ColdStock(made, water_pct().get(code), facts.salt_out_f, "published")


def solution(analysis, water, *traits):
    return ColdStock(
        Stock("S", "Solution", 9.0, 0.0, analysis, traits=frozenset(traits)), water, 20
    )


def screened(storage_f, **pct):
    recipe = [Share(code, share) for code, share in pct.items()]
    return screen(recipe, [cold(code) for code in pct], salts(), storage_f)


def verdicts(found):
    return {salt.code: salt.verdict.value for salt in found.salts}


@pytest.mark.parametrize(("storage_f", "said"), [(50.5, "clear"), (49, "may_salt_out")])
def test_a_0_0_15_potash_solution_is_clear_only_above_fifty_degrees(storage_f, said):
    # 23.74 % KCl; 23.8 % is saturated at 10 C (published fertilizer solubility table).
    potash = solution({"K2O": 15.0, "Cl": 11.29}, 76.26)
    found = screen([Share("S", 100.0)], [potash], salts(), storage_f)
    assert verdicts(found)["KCl"] == said


def test_a_0_0_13_8_potash_solution_is_the_limit_at_freezing():
    # 21.9 % KCl is saturated at 0 C.
    potash = solution({"K2O": 13.8, "Cl": 13.8 / 0.63177 * 0.47555}, 100 - 13.8 / 0.63177)
    found = screen([Share("S", 100.0)], [potash], salts(), 32.0)
    (kcl,) = [salt for salt in found.salts if salt.code == "KCl"]
    assert kcl.most_saturation_pct == pytest.approx(100, abs=0.5)


@pytest.mark.parametrize(
    ("n_pct", "clear_f", "crystals_f"),
    # Crystallisation temperatures of urea solutions from the same solubility figures by straight
    # lines: 19-0-0 34 F, 20-0-0 39 F, 21-0-0 46 F, 23-0-0 60 F.
    [(19.0, 36, 32.5), (20.0, 40, 37), (21.0, 48, 44), (23.0, 62, 58)],
)
def test_urea_solutions_crystallise_where_they_are_known_to(n_pct, clear_f, crystals_f):
    urea = solution({"N.urea": n_pct}, 100 - n_pct / 0.4665)
    for storage_f, said in ((clear_f, "clear"), (crystals_f, "may_salt_out")):
        found = screen([Share("S", 100.0)], [urea], salts(), storage_f)
        assert verdicts(found)["urea"] == said, storage_f


def test_urea_beside_ammonium_nitrate_is_not_judged_by_the_figures_of_urea_alone():
    found = screened(60.0, UAN32=100.0)
    (urea,) = [salt for salt in found.salts if salt.code == "urea"]
    assert urea.verdict is ColdVerdict.NOT_ASSESSED
    assert "dissolve each other" in urea.words
    # 34.3 % urea in 20 % water.
    assert urea.most_saturation_pct > 100
    assert verdicts(screened(60.0, UAN32=20.0, WATER=80.0))["urea"] == "clear"
    # Ammonium without nitrate is no UAN.
    ammonium = solution({"N.urea": 21.0, "N.ammoniacal": 1.0}, 55.0)
    alone = screen([Share("S", 100.0)], [ammonium], salts(), 36.0)
    assert verdicts(alone)["urea"] == "may_salt_out"


def test_potash_and_nitrate_of_different_stocks_meet_as_potassium_nitrate():
    found = screened(40.0, UAN32=40.0, KACETATE24=40.0, WATER=20.0)
    assert verdicts(found)["KNO3"] == "may_salt_out"
    apart = screened(40.0, UAN32=60.0, WATER=40.0)
    assert verdicts(apart)["KNO3"] == "clear"
    assert "holds nothing" in next(s.words for s in apart.salts if s.code == "KNO3")


def test_sulfur_counts_as_sulfate_only_where_there_is_sulfate():
    thiosulfate = solution({"K2O": 20.0, "S": 13.6}, 60.0, "thiosulfate")
    sulfate = solution({"K2O": 20.0, "S": 13.6}, 60.0, "sulfate")
    said = [
        verdicts(screen([Share("S", 100.0)], [each], salts(), 60.0))["K2SO4"]
        for each in (thiosulfate, sulfate)
    ]
    assert said == ["clear", "may_salt_out"]


def test_ten_percent_potassium_sulfate_is_saturated_at_twenty_celsius():
    # About 10 % of the solution (11.1 g per 100 g of water, published table).
    salt = 11.1 / 111.1 * 100
    made = solution({"K2O": salt * 0.54055, "S": salt * 0.18401}, 100 - salt, "sulfate")
    found = screen([Share("S", 100.0)], [made], salts(), 68.0)
    (k2so4,) = [salt for salt in found.salts if salt.code == "K2SO4"]
    assert k2so4.most_saturation_pct == pytest.approx(100, abs=0.2)


def test_a_stock_whose_water_is_unknown_leaves_a_band_and_no_verdict_within_it():
    known = solution({"N.urea": 17.0}, 55.0)
    unknown = replace(known, water_pct=None)
    sure, unsure = (screen([Share("S", 100.0)], [each], salts(), 40.0) for each in (known, unknown))
    assert verdicts(sure)["urea"] == "clear"
    assert verdicts(unsure)["urea"] == "not_assessed"
    assert unsure.water_unknown == ("S",)
    assert unsure.least_water_pct == 0
    # 17 % N is 36.4 % urea, so there is at most 63.6 % water.
    assert unsure.most_water_pct == pytest.approx(63.56, abs=0.01)


def test_just_above_saturation_with_the_least_water_is_no_verdict_either():
    # 95 % of a 23 % N urea solution (49.30 % urea) and 5 % of a stock of unknown water: 46.84 g of
    # urea in 48.17 to 53.17 g of water, 97.2 to 88.1 g per 100 g. At 59 F (15 C) the published 85
    # at 10 C and 106 at 20 C give (85 x 106)^0.5 = 94.9.
    urea = solution({"N.urea": 23.0}, 50.70)
    unknown = ColdStock(Stock("U", "Unknown", 9.0, 0.0, {}), None, None)
    found = screen([Share("S", 95.0), Share("U", 5.0)], [urea, unknown], salts(), 59.0)
    (said,) = [salt for salt in found.salts if salt.code == "urea"]
    assert said.verdict is ColdVerdict.NOT_ASSESSED
    assert said.least_saturation_pct == pytest.approx(92.8, abs=0.1)
    assert said.most_saturation_pct == pytest.approx(102.4, abs=0.1)


def test_the_most_water_leaves_room_for_what_the_nitrogen_weighs():
    # Urea is 46.65 % N; condensed urea at most 42.41 % (methylenediurea):
    # 100 - 7.84 / 0.4665 - 20.16 / 0.4241 = 35.7.
    triazone = replace(solution({"N.urea": 7.84, "N.slow": 20.16}, 0.0), water_pct=None)
    found = screen([Share("S", 100.0)], [triazone], salts(), 60.0)
    assert found.most_water_pct == pytest.approx(35.66, abs=0.02)


def test_seventy_five_grams_of_ammonium_sulfate_are_saturated_at_twenty_celsius():
    # 75.0 g per 100 g of water at 20 C (published fertilizer solubility table): 42.86 % of the
    # solution; the salt, 132.14 g/mol, is 21.20 % N and 24.27 % S.
    point = SolubilityPoint(20.0, 75.0, "published", True)
    sulfate = SaltSolubility("AMS", "Ammonium sulfate", 132.14, {"NH4": 2, "SO4": 1}, (point,))
    salt = 75.0 / 175.0 * 100
    made = solution({"N.ammoniacal": salt * 0.2120, "S": salt * 0.2427}, 100 - salt, "sulfate")
    (found,) = screen([Share("S", 100.0)], [made], [sulfate], 68.0).salts
    assert found.most_saturation_pct == pytest.approx(100, abs=0.2)


def test_too_much_even_with_the_most_water_may_salt_out():
    unknown = replace(solution({"N.urea": 21.0}, 1.0), water_pct=None)
    found = screen([Share("S", 100.0)], [unknown], salts(), 36.0)
    assert verdicts(found)["urea"] == "may_salt_out"


def test_below_the_table_only_an_excess_at_its_coldest_point_is_judged():
    weak, strong = solution({"N.urea": 10.0}, 78.6), solution({"N.urea": 21.0}, 55.0)
    said = [
        verdicts(screen([Share("S", 100.0)], [each], salts(), 10.0))["urea"]
        for each in (weak, strong)
    ]
    assert said == ["not_assessed", "may_salt_out"]
    found = screen([Share("S", 100.0)], [weak], salts(), 10.0)
    assert next(s for s in found.salts if s.code == "urea").most_saturation_pct is None


def test_above_the_table_an_excess_is_not_judged():
    strong = solution({"N.urea": 36.0}, 22.8)
    found = screen([Share("S", 100.0)], [strong], salts(), 190.0)
    assert verdicts(found)["urea"] == "not_assessed"


def test_each_stock_of_the_recipe_is_looked_at_on_its_own():
    found = screened(25.0, UAN32=50.0, UAN28=30.0, TRIAZONE28=10.0, WATER=10.0)
    assert {each.code: each.verdict.value for each in found.neat} == {
        "UAN32": "may_salt_out",  # 28 F
        "UAN28": "clear",  # 1 F
        "TRIAZONE28": "not_assessed",
        "WATER": "may_salt_out",  # freezes at 32 F
    }


def test_a_stock_that_salts_out_alone_is_enough_to_suspect_the_batch():
    # UAN 32 salts out at 28 F (Virginia and Kansas extension sheets).
    found = screened(25.0, UAN32=100.0)
    assert ColdVerdict.MAY_SALT_OUT not in {each.verdict for each in found.salts}
    assert [each.verdict for each in found.neat] == [ColdVerdict.MAY_SALT_OUT]
    (warmer,) = screened(35.0, UAN28=100.0).neat
    assert warmer.verdict is not ColdVerdict.MAY_SALT_OUT


def test_a_figure_between_a_read_row_and_one_from_memory_is_not_verified():
    # Of potassium chloride 25 C was read and 30 C was not; 80 F is 26.7 C.
    (kcl,) = [salt for salt in screened(80.0, KCL138=100.0).salts if salt.code == "KCl"]
    assert kcl.verified is False


def test_a_stock_of_no_share_is_not_looked_at():
    assert [each.code for each in screened(60.0, UAN28=100.0, UAN32=0.0).neat] == ["UAN28"]


def test_whatever_it_finds_it_is_a_screen_that_only_a_jar_can_settle():
    for storage_f in (-10.0, 60.0, 100.0):
        assert "Only a jar" in screened(storage_f, WATER=100.0).words


def test_figures_from_memory_are_not_called_verified():
    found = screened(68.0, KACETATE24=50.0, UAN28=50.0)
    marks = {salt.code: salt.verified for salt in found.salts}
    assert marks == {"KNO3": False, "KCl": True, "K2SO4": True, "urea": True}
    assert all(salt.source for salt in found.salts)


@given(st.floats(0.0, 60.0))
def test_between_points_solubility_lies_between_them_and_below_the_straight_line(celsius):
    salt = SALTS["KNO3"]
    found = solubility_g(salt, celsius)
    low = max((p for p in salt.points if p.temperature_c <= celsius), key=lambda p: p.temperature_c)
    high = min(
        (p for p in salt.points if p.temperature_c >= celsius), key=lambda p: p.temperature_c
    )
    assert low.g_per_100g - 1e-9 <= found <= high.g_per_100g + 1e-9
    if high is not low:
        part = (celsius - low.temperature_c) / (high.temperature_c - low.temperature_c)
        straight = low.g_per_100g + part * (high.g_per_100g - low.g_per_100g)
        assert found <= straight + 1e-9


#: Monoammonium phosphate, g per 100 g of water by degrees Celsius: University of Campinas,
#: solubility tables (fill_water_solubility_table).
PUBLISHED_G = {0: 23.8, 10: 29.4, 20: 36.8, 30: 45.6, 40: 56.1, 50: 68.6, 60: 83.4}


@pytest.mark.parametrize("left_out_c", [10, 20, 30, 40, 50])
def test_a_row_left_out_of_a_published_table_is_met_by_the_logarithm_and_not_by_a_line(left_out_c):
    ends = [left_out_c - 10, left_out_c + 10]
    points = tuple(SolubilityPoint(c, PUBLISHED_G[c], "published", True) for c in ends)
    salt = SaltSolubility("MAP", "Monoammonium phosphate", 115.03, {"NH4": 1}, points)
    published = PUBLISHED_G[left_out_c]
    assert solubility_g(salt, left_out_c) == pytest.approx(published, rel=0.007)
    straight = (PUBLISHED_G[ends[0]] + PUBLISHED_G[ends[1]]) / 2
    assert straight > published * 1.016


def test_half_way_between_two_rows_the_solubility_is_their_geometric_mean():
    # KNO3 13.3 g at 0 C and 20.9 g at 10 C: (13.3 x 20.9)^0.5 = 16.67 at 5 C, a line gives 17.10.
    assert solubility_g(SALTS["KNO3"], 5.0) == pytest.approx(16.6724, abs=1e-4)


def test_there_is_no_solubility_outside_the_table():
    assert solubility_g(SALTS["KCl"], -1.0) is None
    assert solubility_g(SALTS["KCl"], 61.0) is None


@given(st.floats(1.0, 99.0), st.sampled_from([33.0, 50.0, 68.0]))
def test_more_water_never_makes_it_worse(share, storage_f):
    def most(pct):
        found = screened(storage_f, KCL138=pct, WATER=100.0 - pct)
        return next(s.most_saturation_pct for s in found.salts if s.code == "KCl")

    assert most(share * 0.9) <= most(share) + 1e-9


@pytest.mark.parametrize(
    ("recipe", "stocks", "storage_f", "field"),
    [
        ([Share("?", 100.0)], [cold("WATER")], 40.0, "recipe.0.code"),
        ([Share("WATER", 90.0)], [cold("WATER")], 40.0, "recipe"),
        ([Share("WATER", float("nan"))], [cold("WATER")], 40.0, "recipe.0.pct"),
        ([Share("WATER", 100.0)], [cold("WATER")], float("nan"), "storage_f"),
        (
            [Share("WATER", 100.0)],
            [replace(cold("WATER"), water_pct=101.0)],
            40.0,
            "stocks.WATER.water_pct",
        ),
    ],
)
def test_a_wrong_question_is_refused_by_field(recipe, stocks, storage_f, field):
    with pytest.raises(BadProblem) as refused:
        screen(recipe, stocks, salts(), storage_f)
    assert field in [error.field for error in refused.value.errors]
