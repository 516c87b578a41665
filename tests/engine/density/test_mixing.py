"""What the mixture's volume is made of, and when nothing but ideal mixing is left."""

from dataclasses import replace

import pytest
from hypothesis import given
from hypothesis import strategies as st

from formulas.engine import BadProblem, Share, evaluate
from formulas.engine.density import specific_volumes_gal_per_lb
from formulas.engine.density.mixing import (
    mixes_ideally,
    partial_volumes_gal_per_lb,
    volume_gal,
)
from formulas.engine.plant.as_made import Charge, Lot, as_made
from tests.engine.density.solutions import STRONG, UAN32, UNKNOWN, WATER, solution

LIQUIDS = [UAN32, WATER, UNKNOWN, *STRONG[:3]]
MASSES = st.lists(
    st.floats(0.0, 1000.0).map(lambda lb: 0.0 if lb < 1e-3 else lb),
    min_size=len(LIQUIDS),
    max_size=len(LIQUIDS),
).filter(any)


@given(MASSES)
def test_partial_volumes_add_up_to_the_volume(masses):
    volumes = partial_volumes_gal_per_lb(LIQUIDS, masses)
    added = sum(volume * lb for volume, lb in zip(volumes, masses, strict=True))
    assert added == pytest.approx(volume_gal(LIQUIDS, masses), rel=1e-9)


def test_a_partial_volume_is_what_a_pound_more_adds():
    masses = [500.0, 200.0, 100.0, 150.0, 60.0, 0.0]
    volumes = partial_volumes_gal_per_lb(LIQUIDS, masses)
    for i, partial in enumerate(volumes):
        more = [lb + (0.01 if j == i else 0.0) for j, lb in enumerate(masses)]
        grown = (volume_gal(LIQUIDS, more) - volume_gal(LIQUIDS, masses)) / 0.01
        assert partial == pytest.approx(grown, rel=1e-4)


def test_specific_volumes_by_code_are_the_blends():
    stocks = {stock.code: stock for stock in LIQUIDS}
    recipe = [Share("UAN32", 60.0), Share("WATER", 25.0), Share("POLY", 15.0)]
    volumes = specific_volumes_gal_per_lb(stocks, recipe)
    blend = evaluate(LIQUIDS, recipe)
    added = sum(share.pct / 100 * volumes[share.code] for share in recipe)
    assert 1 / added == pytest.approx(blend.density_lb_per_gal, rel=1e-12)
    assert volumes["POLY"] == 1 / UNKNOWN.density_lb_per_gal


def test_without_solutes_volumes_add_exactly():
    plain = [replace(stock, solutes={}) for stock in LIQUIDS]
    masses = [500.0, 200.0, 100.0, 150.0, 60.0, 10.0]
    added = 0.0
    for stock, lb in zip(plain, masses, strict=True):
        added += lb / stock.density_lb_per_gal
    assert volume_gal(plain, masses) == added
    assert partial_volumes_gal_per_lb(plain, masses) == tuple(
        1 / stock.density_lb_per_gal for stock in plain
    )


def test_a_stock_without_solutes_leaves_the_others_their_contraction():
    known = volume_gal([UAN32, WATER], [60.0, 25.0])
    both = volume_gal([UAN32, WATER, UNKNOWN], [60.0, 25.0, 15.0])
    assert both - known == pytest.approx(15.0 / UNKNOWN.density_lb_per_gal)
    assert known < 60.0 / 11.06 + 25.0 / WATER.density_lb_per_gal


def test_two_lots_of_one_solution_mix_without_contraction():
    lots = [STRONG[1], replace(STRONG[1], density_lb_per_gal=10.20)]
    assert volume_gal(lots, [100.0, 50.0]) == pytest.approx(100 / 10.17 + 50 / 10.20, rel=1e-12)


@pytest.mark.parametrize(
    "stock",
    [
        UNKNOWN,
        solution("DKP", 11.5, K2HPO4=40.0),  # data up to 18 %
        solution("SLIP", 11.5, KCl=2.185),  # a lost decimal place: its density says otherwise
    ],
    ids=lambda stock: stock.code,
)
def test_what_cannot_be_relied_on_mixes_ideally(stock):
    assert mixes_ideally(stock)
    halves = volume_gal([stock, WATER], [1.0, 1.0])
    assert halves == 1 / stock.density_lb_per_gal + 1 / WATER.density_lb_per_gal


def density_message(stocks, recipe):
    found = evaluate(stocks, recipe).findings
    return next(finding for finding in found if finding.code == "density_estimate")


def test_the_answer_says_which_stocks_mix_ideally():
    recipe = [Share("UAN32", 60.0), Share("WATER", 25.0), Share("POLY", 15.0)]
    finding = density_message(LIQUIDS, recipe)
    assert "what is dissolved: Polyphosphate." in finding.message
    assert "Beyond the temperature or strength of the published data: " in finding.message
    assert "ammonium nitrate" in finding.message
    assert "Laliberté" in finding.source


def test_a_recipe_without_solutes_says_what_it_always_said():
    plain = [replace(stock, solutes={}) for stock in LIQUIDS]
    finding = density_message(plain, [Share("UAN32", 75.0), Share("WATER", 25.0)])
    assert finding.message == (
        "Density is an estimate by ideal mixing (volumes add); real solutions can differ by "
        "about half a percent. Check it with a hydrometer."
    )


def test_solutes_are_refused_by_name():
    salted = replace(WATER, solutes={"NaCl": 10.0, "KCl": -1.0})
    with pytest.raises(BadProblem) as caught:
        evaluate([salted], [Share("WATER", 100.0)])
    assert [error.field for error in caught.value.errors] == [
        "stocks.0.solutes.NaCl",
        "stocks.0.solutes.KCl",
    ]
    with pytest.raises(BadProblem, match="more than 100"):
        evaluate([replace(UAN32, solutes={"urea": 50, "KCl": 51})], [Share("UAN32", 100.0)])


def test_as_made_is_the_density_of_the_same_mixture():
    lots = [
        Lot("A", "UAN32", 11.06, {"N.urea": 32.0}, UAN32.solutes),
        Lot("B", "WATER", 8.337, {}, is_water=True),
    ]
    made = as_made([Charge("A", 500.0), Charge("B", 125.0), Charge("A", 375.0)], lots)
    recipe = [Share("UAN32", 87.5), Share("WATER", 12.5)]
    assert made.density_lb_per_gal == pytest.approx(
        evaluate([UAN32, WATER], recipe).density_lb_per_gal, rel=1e-12
    )
