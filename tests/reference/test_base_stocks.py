"""Base stock facts: every figure sourced, computed analyses re-derived from atomic masses."""

import pytest
from molmass import Formula

from formulas.engine.blend.solving import solve
from formulas.engine.composition import content_pct, slow_release_pct_of_n
from formulas.engine.density.mixing import model_gal_per_lb
from formulas.engine.density.solutes import SOLUTES, solute_of
from formulas.engine.mark import Mark
from formulas.engine.problem import BlendProblem, Effect, NutrientWish
from formulas.engine.result import OutOfReach, Solved
from formulas.engine.units import celsius
from formulas.reference import base_stocks, compatibility_rules, demo_costs, traits
from tests.benchmarks.shipped_wishes import shipped_stocks

STOCKS = base_stocks()
BY_CODE = {stock.code: stock for stock in STOCKS}
P2O5_PER_P = Formula("P2O5").mass / (2 * Formula("P").mass)
K2O_PER_K = Formula("K2O").mass / (2 * Formula("K").mass)


def element_pct(formula: str, symbol: str) -> float:
    composition = Formula(formula).composition().values()
    return (
        100
        * sum(item.mass for item in composition if item.symbol == symbol)
        / (Formula(formula).mass)
    )


def from_masses(stock, key: str) -> float:
    """Percent by weight of a nutrient from the dissolved substances and IUPAC masses."""
    symbol, factor = {"P2O5": ("P", P2O5_PER_P), "K2O": ("K", K2O_PER_K)}.get(key, (key, 1.0))
    return factor * sum(s.pct / 100 * element_pct(s.formula, symbol) for s in stock.made_of)


@pytest.mark.parametrize("stock", STOCKS, ids=lambda stock: stock.code)
def test_every_figure_of_a_stock_carries_a_mark_and_a_source(stock):
    figures = {"density_lb_per_gal", "hazards", "ppe", "charging_rank", "min_pct", "max_pct"}
    figures |= {"scale_step_lb"} | {f"analysis.{key}" for key in stock.analysis}
    figures |= {"other_origin"} if stock.other_origin else set()
    figures |= {"ph"} if stock.ph_low is not None else set()
    figures |= {"salt_out_f"} if stock.salt_out_f is not None else set()
    figures |= {"salt_index_per_unit"} if stock.salt_index_per_unit is not None else set()
    assert set(stock.figure_sources) == figures
    for source in stock.figure_sources.values():
        assert source.mark in Mark
        assert source.text.strip()


@pytest.mark.parametrize(
    ("code", "key"),
    [
        (stock.code, key)
        for stock in STOCKS
        if stock.made_of
        for key in (
            "N",
            "P2O5",
            "K2O",
            "S",
            "Cl",
            "Ca",
            "Mg",
            "Fe",
            "Mn",
            "Zn",
            "Cu",
            "Mo",
            "Na",
        )
        # Ammonium thiosulfate is sold by its grade, ammonia above the salt's own included.
        if content_pct(stock.analysis, key) > 0 and (stock.code, key) != ("ATS12", "N")
    ],
)
def test_an_analysis_computed_from_its_substances_agrees_with_atomic_masses(code, key):
    # Atomic masses: molmass (IUPAC). 0.25 % relative covers the rounding of published grades.
    stock = BY_CODE[code]
    assert content_pct(stock.analysis, key) == pytest.approx(from_masses(stock, key), rel=2.5e-3)


def test_what_is_dissolved_has_a_source_and_fits_the_stock():
    for stock in STOCKS:
        for solute in stock.made_of:
            assert solute.source.text.strip()
        known = [solute_of(solute.formula) for solute in stock.made_of]
        if stock.made_of and all(known):
            fractions = {of.key: s.pct / 100 for of, s in zip(known, stock.made_of, strict=True)}
            at_f = celsius(stock.density_at_f)
            # The certificate's density by the published equation, thiosulfates being estimates.
            modelled = 1 / model_gal_per_lb(fractions, at_f)
            assert stock.density_lb_per_gal == pytest.approx(modelled, rel=0.01), stock.code


def test_formulas_of_solutes_have_the_molar_masses_they_stand_for():
    # molmass (IUPAC): the thiosulfates are built from molar volumes.
    assert {code: Formula(code).mass for code in ("Na2S2O3", "NaNO3", "KNO3")} == pytest.approx(
        {"Na2S2O3": 158.108, "NaNO3": 84.9947, "KNO3": 101.1032}, abs=0.01
    )
    for solute in SOLUTES.values():
        assert Formula(solute.formula).mass > 0


def test_handbook_shares_of_pure_substances_follow_from_atomic_masses():
    # N in urea 46.65 %, P to P2O5 2.2914, K to K2O 1.2046: handbook conversions.
    assert element_pct("CH4N2O", "N") == pytest.approx(46.65, abs=0.005)
    assert pytest.approx(2.2914, abs=5e-5) == P2O5_PER_P
    assert pytest.approx(1.2046, abs=5e-5) == K2O_PER_K
    assert 0.44 * element_pct("K2CO3", "K") * K2O_PER_K == pytest.approx(30.0, abs=0.02)
    assert 0.505 * element_pct("K2S2O3", "S") == pytest.approx(17.0, abs=0.05)


@pytest.mark.parametrize("stock", STOCKS, ids=lambda stock: stock.code)
def test_a_stock_holds_no_more_than_itself_and_is_a_plausible_liquid(stock):
    assert sum(stock.analysis.values()) <= 100
    assert 8.3 <= stock.density_lb_per_gal <= 14.2
    assert stock.hazards.endswith("SDS governs.")


def test_urea_triazone_is_inside_its_definition():
    # Clapp 2001 (TheScientificWorld 1:103): >= 25 % N, 5 to 40 % of it unreacted urea.
    analysis = BY_CODE["TRIAZONE28"].analysis
    assert content_pct(analysis, "N") == pytest.approx(28.0)
    assert slow_release_pct_of_n(analysis) == pytest.approx(72.0)
    assert 5 <= 100 * analysis["N.urea"] / 28 <= 40


def test_uan_nitrogen_is_half_urea_a_quarter_ammonium_a_quarter_nitrate():
    # IPNI Nutrient Source Specifics, urea-ammonium nitrate.
    for code, total in (("UAN28", 28.0), ("UAN30", 30.0), ("UAN32", 32.0)):
        analysis = BY_CODE[code].analysis
        assert content_pct(analysis, "N") == pytest.approx(total)
        assert analysis["N.urea"] == pytest.approx(total / 2)
        assert analysis["N.ammoniacal"] == analysis["N.nitrate"] == pytest.approx(total / 4)


def test_every_stock_has_a_demo_cost_and_every_unit_is_used():
    costs = demo_costs()
    assert {cost.stock for cost in costs} == set(BY_CODE)
    assert {cost.per.value for cost in costs} == {"ton", "lb", "gal"}
    assert {cost.source.mark for cost in costs} == {Mark.DEMO}


def test_a_stock_is_never_blocked_against_itself():
    for rule in compatibility_rules():
        if rule.effect is Effect.BLOCKS:
            assert not [s.code for s in STOCKS if {rule.trait_a, rule.trait_b} <= s.traits]


def test_every_trait_is_carried_by_a_stock():
    assert {trait.code for trait in traits()} == frozenset().union(*(s.traits for s in STOCKS))


def test_published_densities_of_the_stocks_a_blender_keeps():
    # SPES-199 (UAN 30), IPNI Nutrient Source Specifics 2 (11-37-0), in lb/gal at 60 F.
    assert BY_CODE["UAN30"].density_lb_per_gal == 10.90
    assert BY_CODE["APP1137"].density_lb_per_gal == 11.9
    # Sheets of sulfate solutions: specific gravity 1.40 at 33 % and 1.37 at 29 %, brought to the
    # strength of the stock along the gravity above water; 1 g/cm3 is 8.3454 lb/gal.
    for code, share, sheet_share, gravity in (
        ("MNSULF11", 30, 33, 1.40),
        ("ZNSULF12", 30, 29, 1.37),
    ):
        modelled = 1 / model_gal_per_lb(_fractions(code, sheet_share / share), celsius(68.0))
        assert modelled == pytest.approx(gravity * 8.3454, rel=0.004), code


def _fractions(code: str, times: float) -> dict[str, float]:
    return {solute_of(s.formula).key: s.pct / 100 * times for s in BY_CODE[code].made_of}


def test_salt_out_of_the_weak_solutions_follows_published_solubility():
    # Course table of copper sulfate: 17.2 and 20.5 g in 100 g of water at 10 and 20 C. Fertilizer
    # solubility table of monopotassium phosphate: 11.0 and 18.0 g at 5 and 10 C.
    for code, low_c, per_c, low_g, high_g in (
        ("CUSULF6", 10, 10, 17.2, 20.5),
        ("MKP15", 5, 5, 11.0, 18.0),
    ):
        (solute,) = BY_CODE[code].made_of
        grams = 100 * solute.pct / (100 - solute.pct)
        at_c = low_c + per_c * (grams - low_g) / (high_g - low_g)
        assert BY_CODE[code].salt_out_f == pytest.approx(at_c * 1.8 + 32, abs=1)


def test_eddha_iron_is_a_weak_solution_and_makes_no_six_percent_liquid():
    # Two suppliers' sheets: about 60 g/L of a solid of 6.0 % Fe, in about 1.03 kg.
    stock = BY_CODE["FEEDDHA"]
    litre_g = stock.density_lb_per_gal / 8.3454 * 1000
    assert stock.analysis["Fe"] <= 60 * 6.0 / litre_g * 1.005
    stocks = [s for s in shipped_stocks() if s.code in ("FEEDDHA", "WATER")]
    asked = BlendProblem(stocks=tuple(stocks), wishes=(NutrientWish("Fe", 0.5),))
    assert isinstance(solve(asked), OutOfReach)
    weak = BlendProblem(stocks=tuple(stocks), wishes=(NutrientWish("Fe", 0.2),))
    assert isinstance(solve(weak), Solved)


@pytest.mark.parametrize(
    ("code", "words"),
    [
        ("CANITRATE", "causes serious eye damage (H318)"),  # ECHA 15487, 15075
        ("ZNSULF12", "causes serious eye damage (H318)"),  # ECHA 15488
        ("CUSULF6", "Severe marine pollutant"),  # 49 CFR 172.101 App. B
        ("CUSULF6", "serious eye damage (H318)"),  # ICSC 1416
        ("BORATE10", "may damage fertility or the unborn child (H360)"),  # Reg. (EU) 2021/849
        ("BORATE10", "0.0175 % B"),  # 0.1 % H3BO3, Table A.7.1
        ("NBPT25", "serious eye damage (H318)"),  # ECHA 16245
        ("NBPT25", "Suspected of damaging fertility (H361)"),
        ("TRIAZONE28", "May cause cancer (H350)"),  # 29 CFR 1910.1048(m)
        ("MU30", "formaldehyde reaches 0.1 %"),
        ("KTHIO25", "toxic sulfur dioxide gas"),
        ("ATS12", "toxic sulfur dioxide gas"),
        ("PHOSACID75", "toxic sulfur dioxide gas"),
        ("FESULF5", "toxic sulfur dioxide gas"),
        ("MKP15", "toxic sulfur dioxide gas"),
        ("PHOSACID75", "UN1805"),  # 49 CFR 172.101
        ("KOH45", "UN1814"),
        ("KCARB30", "pH is 11.5 or more"),  # App. A.2.3.1.3
        ("HUMIC12", "pH is 11.5 or more"),
        ("MNSULF11", "(H373)"),  # ICSC 0290
        ("FESULF5", "irritates skin (H315) and eyes (H319)"),  # GisChem 916
        ("CUEDTA", "harmful if swallowed (H302)"),  # ECHA 17524
        ("UAN28", "serious eye irritation (H319)"),
        ("UAN30", "serious eye irritation (H319)"),
    ],
)
def test_hazard_words_are_those_of_the_dossiers_and_the_rule(code, words):
    assert words in BY_CODE[code].hazards


@pytest.mark.parametrize("code", ["MGNITRATE", "MGSULF4", "AMS8", "FEEDTA"])
def test_what_dossiers_do_not_classify_is_not_called_an_irritant(code):
    # ECHA 16076, 15865, 29589; ammonium sulfate by supplier sheets.
    assert BY_CODE[code].hazards.startswith("Not classified")
    assert BY_CODE[code].figure_sources["hazards"].mark is Mark.VERIFIED


@pytest.mark.parametrize("stock", STOCKS, ids=lambda stock: stock.code)
def test_what_burns_or_blinds_is_handled_behind_a_face_shield_near_an_eyewash(stock):
    # 29 CFR 1910.151(c): quick drenching within the work area of injurious corrosives.
    injures = any(code in stock.hazards for code in ("H314", "H318"))
    for words in ("Face shield", "eyewash"):
        assert (words in stock.ppe) is injures
    assert ("P201" in stock.ppe) is any(code in stock.hazards for code in ("H360", "H361"))
    assert ("formaldehyde" in stock.ppe) is ("uf_condensate" in stock.traits)
