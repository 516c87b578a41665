"""Gallons and whole packages for acres, against arithmetic from outside.

NIST Handbook 44, appendix C: an acre is 43,560 square feet. So 40 acres are 1,742.4 thousand
square feet, and a liquid of 24 % N at 10.62 lb/gal holds 2.5488 lb N in a gallon.
"""

import pytest

from formulas.engine.field.acres import Wanted, filled, product_gal

TOTE = 265.0


def gallons(rate: float) -> float:
    return product_gal(40.0, rate, n_pct=24.0, density_lb_per_gal=10.62)


def test_forty_acres_take_the_gallons_of_a_calculation_by_hand() -> None:
    # 1742.4 x 0.7 = 1219.68 lb N; / 2.5488 = 478.53 gal
    assert gallons(0.7) == pytest.approx(478.53, abs=0.005)
    # 1742.4 x 0.9 = 1568.16 lb N; / 2.5488 = 615.25 gal
    assert gallons(0.9) == pytest.approx(615.25, abs=0.005)


def test_what_a_round_leaves_over_goes_into_the_next() -> None:
    first, second, third = filled(Wanted("24", gallons(rate), TOTE) for rate in (0.7, 0.9, 0.5))
    assert [each.packages for each in (first, second, third)] == [2, 3, 1]
    # 2 x 265 - 478.53 = 51.47; 51.47 + 3 x 265 - 615.25 = 231.22; + 265 - 341.81 = 154.41
    assert first.over_gal == pytest.approx(51.47, abs=0.01)
    assert second.from_before_gal == pytest.approx(51.47, abs=0.01)
    assert second.over_gal == pytest.approx(231.22, abs=0.01)
    assert third.over_gal == pytest.approx(154.41, abs=0.01)


def test_leftovers_of_one_blend_do_not_fill_another() -> None:
    rounds = [Wanted("24", 100.0, TOTE), Wanted("18", 100.0, TOTE), Wanted("24", 100.0, TOTE)]
    assert [each.packages for each in filled(rounds)] == [1, 1, 0]


def test_exactly_full_packages_need_no_package_more() -> None:
    assert filled([Wanted("24", 0.1 * 3 * TOTE / 0.3, TOTE)])[0].packages == 1
