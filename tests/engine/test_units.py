"""Exact units and the conversions built on them."""

import pytest

from formulas.engine import units


def test_the_constants_are_the_exact_ones():
    # NIST SP 811 appendix B: lb = 0.45359237 kg; US gallon = 231 cubic inches of 2.54 cm.
    assert units.KG_PER_LB == 0.45359237
    assert pytest.approx(231 * 2.54**3 / 1000, rel=1e-15) == units.L_PER_GAL
    # NIST Handbook 44 appendix C: an acre is 4,840 square yards, a gallon 128 fluid ounces.
    assert units.SQFT_PER_ACRE == 4840 * 9
    assert units.FL_OZ_PER_GAL == 8 * 16
    assert units.LB_PER_TON == 2000


def test_one_pound_per_1000_sqft_is_43_56_pounds_per_acre():
    assert units.per_acre(1.0) == pytest.approx(43.56)


def test_one_gram_per_cubic_centimetre_is_8_3454_pounds_per_gallon():
    # CRC Handbook: 1 g/cm3 = 8.345404 lb/US gal.
    assert pytest.approx(8.345404, abs=5e-7) == units.L_PER_GAL / units.KG_PER_LB
