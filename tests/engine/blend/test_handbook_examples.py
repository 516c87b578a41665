"""Worked examples of extension bulletins and handbooks, run through our own functions.

Each expected figure is the published one, with its publication beside it; the tolerance is the
rounding of the publication.
"""

from decimal import Decimal

import pytest

from formulas.engine.composition import content_pct, slow_release_pct_of_n
from formulas.engine.field.spray import SprayRequest, spray_sheet
from formulas.engine.units import (
    KG_PER_LB,
    LB_PER_TON,
    content_lb,
    content_lb_per_gal,
    per_acre,
    product_gal_per_lb,
    product_lb_per_lb,
)
from formulas.reference import base_stocks

BY_CODE = {stock.code: stock for stock in base_stocks()}
UAN30 = {"N.urea": 15.0, "N.ammoniacal": 7.5, "N.nitrate": 7.5}


def dollars_per_lb(price_per_ton: str, content: float) -> Decimal:
    """Price of one pound of nutrient from the price of a ton of product."""
    per_lb = Decimal(price_per_ton) / LB_PER_TON
    return per_lb * Decimal(str(product_lb_per_lb(content)))


def test_purdue_uan_28_holds_2_97_lb_n_per_gallon():
    # J. Camberato, Purdue, in Farm Progress, 17 January 2023: 2.97 lb N/gal; 20 gal is 59.4 lb.
    uan = BY_CODE["UAN28"].analysis
    per_gal = content_lb_per_gal(content_pct(uan, "N"), 10.6)
    assert per_gal == pytest.approx(2.97, abs=0.005)
    assert content_lb(20 * 10.6, content_pct(uan, "N")) == pytest.approx(59.4, abs=0.05)


@pytest.mark.parametrize(
    ("analysis", "density_lb_per_gal", "published"),
    [
        # Virginia Cooperative Extension SPES-199: UAN at 60, 30 and 90 F.
        (BY_CODE["UAN28"].analysis, 10.67, 2.99),
        (BY_CODE["UAN28"].analysis, 10.76, 3.01),
        (BY_CODE["UAN28"].analysis, 10.58, 2.96),
        (UAN30, 10.90, 3.27),
        (UAN30, 10.99, 3.30),
        (UAN30, 10.81, 3.24),
    ],
)
def test_virginia_uan_at_three_temperatures(analysis, density_lb_per_gal, published):
    sheet = spray_sheet(SprayRequest(analysis, density_lb_per_gal, 3.0, n_rate_lb_per_1000sqft=1.0))
    assert sheet.n_lb_per_gal == pytest.approx(published, abs=0.0051)


def test_our_uan_28_has_the_virginia_density_and_strength():
    # Virginia Cooperative Extension SPES-199: 10.67 lb/gal and 2.99 lb N/gal at 60 F.
    stock = BY_CODE["UAN28"]
    assert (stock.density_lb_per_gal, stock.density_at_f) == (10.67, 60)
    n_pct = content_pct(stock.analysis, "N")
    assert content_lb_per_gal(n_pct, stock.density_lb_per_gal) == pytest.approx(2.99, abs=0.005)


def test_thirty_percent_at_10_86_lb_per_gallon():
    # gardenguides.com 125745: 3.26 lb N/gal.
    assert content_lb_per_gal(30.0, 10.86) == pytest.approx(3.26, abs=0.005)


def test_wisconsin_cost_per_pound_of_nitrogen():
    # University of Wisconsin Extension, FertMath: urea $700/ton $0.76; UAN 28 $600/ton $1.07.
    urea, uan = dollars_per_lb("700", 46.0), dollars_per_lb("600", 28.0)
    assert round(urea, 2) == Decimal("0.76")
    assert round(uan, 2) == Decimal("1.07")
    assert round(uan - urea, 2) == Decimal("0.31")


@pytest.mark.parametrize(
    ("content", "price_per_ton", "n_lb_per_ton", "per_lb"),
    [
        # Noble Research Institute, June 2007 ($0.61 follows from its $330 and 540 lb).
        (46.0, "412", 920, "0.45"),
        (34.0, "370", 680, "0.54"),
        (27.0, "330", 540, "0.61"),
        # Purdue agronomy, Nielsen, fertilizer math (1,640 lb published).
        (82.0, "285", 1640, "0.17"),
        (28.0, "225", 560, "0.40"),
    ],
)
def test_pounds_of_nitrogen_in_a_ton_and_their_cost(content, price_per_ton, n_lb_per_ton, per_lb):
    assert content_lb(LB_PER_TON, content) == pytest.approx(n_lb_per_ton)
    assert round(dollars_per_lb(price_per_ton, content), 2) == Decimal(per_lb)


def test_six_fluid_ounces_of_a_4_percent_liquid():
    # M. Woods, Asian Turfgrass Center, 19 March 2015, method of Virginia 424-035: 10.68 lb/gal,
    # 4 % N, 0.4 % Mn at 6 fl oz/1,000 sq ft: about 0.5 lb product, 0.02 lb N, 0.002 lb Mn.
    sheet = spray_sheet(
        SprayRequest({"N.urea": 4.0, "Mn": 0.4}, 10.68, 1.0, product_fl_oz_per_1000sqft=6.0)
    )
    product_lb = sheet.product_gal_per_1000sqft * 10.68
    assert product_lb == pytest.approx(0.498, abs=0.005)
    assert sheet.n_lb_per_1000sqft == pytest.approx(0.02, abs=0.0005)
    assert content_lb(product_lb, 0.4) == pytest.approx(0.002, abs=0.0005)


def test_1250_pounds_of_5_10_20():
    # Turf mathematics worksheet (docplayer.net 28210450): 62.5 lb N; 125 lb P2O5; 250 lb K2O.
    found = [content_lb(1250, pct) for pct in (5.0, 10.0, 20.0)]
    assert found == pytest.approx([62.5, 125.0, 250.0])


def test_purdue_16_8_8_at_three_quarters_of_a_pound():
    # Purdue AY-22 (trumarkathletics.com): 4.69 lb/1,000 sq ft; 8,000 sq ft take about 37 lb.
    per_1000 = 0.75 * product_lb_per_lb(16.0)
    assert per_1000 == pytest.approx(4.69, abs=0.005)
    assert 8 * per_1000 == pytest.approx(37.5)


def test_cornell_thirty_pound_bag_of_24_2_8():
    # Cornell Cooperative Extension Suffolk: 7.2, 0.6 and 2.4 lb; 1 lb N on about 7,000 sq ft.
    bag = [content_lb(30, pct) for pct in (24.0, 2.0, 8.0)]
    assert bag == pytest.approx([7.2, 0.6, 2.4])
    assert 30 / product_lb_per_lb(24.0) * 1000 == pytest.approx(7000, abs=250)


def test_a_small_bag_of_29_3_4_on_5000_square_feet():
    # sbturf.com fertilizer labels: 15.5 lb hold 4.5 lb N, 0.9 lb N/1,000 sq ft.
    n_lb = content_lb(15.5, 29.0)
    assert n_lb == pytest.approx(4.5, abs=0.05)
    assert n_lb / 5 == pytest.approx(0.9, abs=0.005)


def test_three_pounds_of_n_from_a_21_percent_product():
    # gardenguides.com 77841: 14.28 lb/1,000 sq ft, 71.42 lb on 5,000 sq ft (both cut, not rounded).
    per_1000 = 3 * product_lb_per_lb(21.0)
    assert per_1000 == pytest.approx(14.28, abs=0.01)
    assert 5 * per_1000 == pytest.approx(71.42, abs=0.01)


def test_university_of_california_pounds_and_gallons_per_pound_of_n():
    # UC nitrogen fertilizer table: UAN 32 takes 3.12 lb or 0.28 gal for one pound of N.
    stock = BY_CODE["UAN32"]
    n_pct = content_pct(stock.analysis, "N")
    assert product_lb_per_lb(n_pct) == pytest.approx(3.12, abs=0.006)
    assert product_gal_per_lb(n_pct, stock.density_lb_per_gal) == pytest.approx(0.28, abs=0.005)
    assert content_lb_per_gal(n_pct, stock.density_lb_per_gal) == pytest.approx(3.54, abs=0.005)


def test_florida_share_of_slow_nitrogen():
    # UF/IFAS Duval County, 20 March 2021: 15-0-15 with 7 % water-insoluble N is 46.67 % slow.
    share = slow_release_pct_of_n({"N.urea": 8.0, "N.insoluble": 7.0, "K2O": 15.0})
    assert share == pytest.approx(46.67, abs=0.005)


def test_kilograms_per_hectare():
    # Schlossberg, Horticulturae 2022 8(3):207: 43.9 kg N/ha is 0.9 lb N/1,000 sq ft.
    hectares_per_acre = 0.40468564224  # NIST SP 811, international acre
    assert per_acre(0.9) * KG_PER_LB / hectares_per_acre == pytest.approx(43.9, abs=0.05)


def test_one_pound_of_n_from_uan_28_in_fluid_ounces_and_gallons_per_acre():
    # From 10.67 lb/gal (Virginia SPES-199): 128 / (0.28 x 10.67) fl oz, 43.56 / 2.9876 gal/ac.
    sheet = spray_sheet(
        SprayRequest(BY_CODE["UAN28"].analysis, 10.67, 4.0, n_rate_lb_per_1000sqft=1.0)
    )
    assert sheet.product_fl_oz_per_1000sqft == pytest.approx(42.8, abs=0.05)
    assert sheet.product_gal_per_acre == pytest.approx(14.58, abs=0.005)
