"""Base stock facts: every figure sourced, computed analyses re-derived from atomic masses."""

import pytest
from molmass import Formula

from formulas.engine.composition import content_pct, slow_release_pct_of_n
from formulas.engine.density.mixing import model_gal_per_lb
from formulas.engine.density.solutes import SOLUTES, solute_of
from formulas.engine.mark import Mark
from formulas.engine.problem import Effect
from formulas.engine.units import celsius
from formulas.reference import base_stocks, compatibility_rules, demo_costs, traits

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
        for key in ("N", "P2O5", "K2O", "S", "Cl", "Ca", "Mg", "Fe")
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
    for code, total in (("UAN28", 28.0), ("UAN32", 32.0)):
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
