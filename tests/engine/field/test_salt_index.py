"""Blend salt index against the published values of liquid grades."""

import pytest

from formulas.engine.field.salt_index import SaltFactor, blend_salt_index
from formulas.engine.problem import Stock
from formulas.engine.result import Share
from formulas.reference import base_stocks

FACTS = {stock.code: stock for stock in base_stocks()}
STOCKS = {
    code: Stock(code, f.name, f.density_lb_per_gal, 0.0, f.analysis, traits=f.traits)
    for code, f in FACTS.items()
}
FACTORS = {
    code: SaltFactor(f.salt_index_per_unit, f.salt_index_per)
    for code, f in FACTS.items()
    if f.salt_index_per_unit is not None
}
#: The published liquid grades were made with dry potash; 62 % K2O.
STOCKS["POTASH"] = Stock("POTASH", "Potash 0-0-62", 16.0, 0.0, {"K2O": 62.0})
FACTORS["POTASH"] = FACTORS["KCL138"]


def grade(n, p2o5, k2o):
    """The grade from 10-34-0, UAN 28 for the remaining N, and potash, in percent."""
    app = p2o5 / 34 * 100
    uan = (n - app * 0.10) / 0.28
    potash = k2o / 0.62
    return (
        Share("APP1034", app),
        Share("UAN28", uan),
        Share("POTASH", potash),
        Share("WATER", 100 - app - uan - potash),
    )


@pytest.mark.parametrize(
    ("npk", "published", "within"),
    [
        # Published salt indexes of liquids made with KCl: trade table of 2012; factors per unit
        # from Mortvedt's table. 4-10-10 comes out at 27.6 against the published 27.5.
        ((7, 21, 7), 27.8, 0.05),
        ((4, 10, 10), 27.5, 0.15),
    ],
)
def test_published_liquid_grades_are_reproduced(npk, published, within):
    result = blend_salt_index(grade(*npk), STOCKS, FACTORS)
    assert result.salt_index == pytest.approx(published, abs=within)
    assert result.not_assessed == ()


@pytest.mark.parametrize(
    ("code", "published", "within"),
    [
        # 10-34-0: 20.0 (trade table of 2012). UAN: 63.0 and 71.1, thiosulfates 68.0 and 90.4:
        # Mortvedt's table of whole materials.
        ("APP1034", 20.0, 0.05),
        ("UAN28", 63.0, 0.05),
        ("UAN32", 71.1, 0.05),
        ("KTHIO25", 68.0, 0.05),
        ("ATS12", 90.4, 0.05),
    ],
)
def test_published_salt_indexes_of_whole_materials_are_reproduced(code, published, within):
    result = blend_salt_index([Share(code, 100.0)], STOCKS, FACTORS)
    assert result.salt_index == pytest.approx(published, abs=within)


def test_a_stock_without_a_factor_is_named_and_never_counted_as_zero():
    shares = (Share("UAN28", 50.0), Share("TRIAZONE28", 50.0))
    result = blend_salt_index(shares, STOCKS, FACTORS)
    assert result.salt_index is None
    assert result.not_assessed == ("TRIAZONE28",)
    assert result.at_least == pytest.approx(31.5)
    assert [part.salt_index for part in result.parts] == [pytest.approx(31.5), None]


def test_water_is_zero_by_definition_and_an_unused_stock_is_not_asked_for():
    shares = (Share("WATER", 50.0), Share("UAN28", 50.0), Share("TRIAZONE28", 0.0))
    result = blend_salt_index(shares, STOCKS, FACTORS)
    assert result.salt_index == pytest.approx(31.5)
    assert result.not_assessed == ()
