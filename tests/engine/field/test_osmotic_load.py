"""Osmotic load: against published salt indexes and loads worked by hand, and its cautions."""

import pytest

from formulas.engine.density.solutes import SOLUTES, solute_of
from formulas.engine.field import osmotic_load
from formulas.engine.field.osmotic_load import (
    dissolved_pct,
    osmol_per_lb,
    salt_osmol_per_lb,
    triazone_n_pct,
)
from formulas.engine.field.spray import SprayRequest, spray_sheet
from formulas.engine.problem import Stock
from formulas.engine.result import Share
from formulas.reference.tables import base_stocks

STOCKS = {stock.code: stock for stock in base_stocks()}


def cautions(sheet):
    return {caution.code: caution.severity.value for caution in sheet.cautions}


def spray(solute, pct, analysis, density, fl_oz=64.0, gal=1.0, **rest):
    return spray_sheet(
        SprayRequest(
            analysis,
            density,
            gal,
            product_fl_oz_per_1000sqft=fl_oz,
            solutes={solute: pct} if solute else {},
            **rest,
        )
    )


@pytest.mark.parametrize(
    ("solute", "published", "within"),
    [
        # Salt index by weight, sodium nitrate = 100 (Mortvedt, Calculating Salt Index, after
        # Rader, White and Whittaker 1943): the ideal count is near for chlorides, nitrates, urea.
        ("KCl", 116.0, 3.0),
        ("NH4NO3", 104.0, 3.0),
        ("urea", 74.0, 4.0),
        ("(NH4)2SO4", 88.0, 10.0),
        ("NaNO3", 100.0, 0.01),
    ],
)
def test_the_count_ranks_salts_as_published_salt_indexes_do(solute, published, within):
    ratio = osmol_per_lb({}, {solute: 10.0}) / osmol_per_lb({}, {"NaNO3": 10.0})
    assert 100 * ratio == pytest.approx(published, abs=within)


def test_every_solute_of_the_density_table_has_its_particles():
    assert set(osmotic_load._SPECIES) == set(SOLUTES)


@pytest.mark.parametrize("code", ["KCL138", "UAN28", "AMS8", "KTHIO25", "ATS12"])
def test_an_analysis_alone_counts_as_much_as_its_species(code):
    # Chloride, nitrate, sulfate and thiosulfate balance to the same ions.
    stock = STOCKS[code]
    solutes = {solute_of(part.formula).key: part.pct for part in stock.made_of}
    alone, known = (osmol_per_lb(stock.analysis, known) for known in ({}, solutes))
    assert alone == pytest.approx(known, rel=0.02)


def test_urea_of_the_iowa_trial_is_the_anchor():
    # 1 lb N = 453.592 g, 28.014 g a mole, in 4 gal of 3.785412 L: 1.069 osmol/L.
    sheet = spray_sheet(SprayRequest({"N.urea": 20.0}, 9.34, 4.0, n_rate_lb_per_1000sqft=1.0))
    assert sheet.osmotic_load_osmol_per_l == pytest.approx(1.069, abs=0.001)
    assert "salt_load" not in cautions(sheet)
    assert salt_osmol_per_lb({"N.urea": 20.0}, {"urea": 42.88}) == pytest.approx(0.0, abs=2e-3)


def test_half_a_gallon_of_potassium_chloride_or_thiosulfate_in_a_gallon_is_cautioned():
    # KCl: 0.5 gal x 9.57 lb x 21.85 % = 474.2 g, 74.55 g a mole, two ions, in 3.785 L: 3.36.
    kcl = spray("KCl", 21.85, {"K2O": 13.8, "Cl": 10.39}, 9.57)
    assert kcl.osmotic_load_osmol_per_l == pytest.approx(3.36, abs=0.02)
    assert cautions(kcl)["salt_load"] == "caution"
    # K2S2O3: 0.5 gal x 12.25 lb x 50.5 % = 1403 g, 190.32 g a mole, three ions: 5.84.
    thio = spray("K2S2O3", 50.5, {"K2O": 25.0, "S": 17.0}, 12.25)
    assert thio.osmotic_load_osmol_per_l == pytest.approx(5.84, abs=0.05)
    assert cautions(thio)["salt_load"] == cautions(thio)["salts_watered_in"] == "caution"
    # Without knowing what is dissolved the load is the same and cautioned too.
    assert cautions(spray(None, 0, {"K2O": 25.0, "S": 17.0}, 12.25))["salt_load"] == "caution"
    (salt,) = (c for c in kcl.cautions if c.code == "salt_load")
    assert "3.36 osmol per litre" in salt.message
    assert "common practice, no source" in salt.source.casefold()


def test_a_weak_salt_spray_is_low_and_heat_raises_it():
    weak = {"fl_oz": 12.0}
    assert cautions(spray("KCl", 21.85, {"K2O": 13.8}, 9.57, **weak))["salt_load"] == "info"
    hot = spray("KCl", 21.85, {"K2O": 13.8}, 9.57, air_temp_f=90.0, **weak)
    assert cautions(hot)["salt_load"] == "caution"


@pytest.mark.parametrize(
    ("solute", "code"),
    [
        ("(NH4)2SO4", "salts_watered_in"),
        ("(NH4)2S2O3", "salts_watered_in"),
        ("K2CO3", "alkaline_salt"),
        ("K2HPO4", "alkaline_salt"),
        ("KOH", "alkaline_salt"),
    ],
)
def test_a_salt_brings_its_own_caution(solute, code):
    assert code in cautions(spray(solute, 10.0, {"K2O": 1.0}, 9.5, fl_oz=6.0))
    assert code not in cautions(spray("KNO3", 10.0, {"K2O": 1.0}, 9.5, fl_oz=6.0))


def test_iron_is_not_watered_in_for_colour():
    iron = spray_sheet(SprayRequest({"N.urea": 20.0, "Fe": 1.0}, 9.5, 2.0, 0.5))
    assert cautions(iron)["iron_on_the_leaf"] == "info"
    assert "iron_on_the_leaf" not in cautions(
        spray_sheet(SprayRequest({"N.urea": 20.0}, 9.5, 2.0, 0.5))
    )


def test_a_recipe_adds_up_what_its_stocks_hold_and_keeps_methylene_urea_apart():
    stocks = [
        Stock("T", "triazone", 10.7, 1.0, {"N.slow": 20.0}, traits=frozenset({"triazone"})),
        Stock(
            "M", "methylene urea", 10.7, 1.0, {"N.slow": 10.0}, traits=frozenset({"uf_condensate"})
        ),
        Stock("K", "chloride", 9.57, 1.0, {"K2O": 13.8}, solutes={"KCl": 20.0}),
    ]
    shares = [Share("T", 50.0), Share("M", 30.0), Share("K", 20.0)]
    assert triazone_n_pct(shares, stocks) == pytest.approx(10.0)
    assert dissolved_pct(shares, stocks) == {"KCl": pytest.approx(4.0)}
