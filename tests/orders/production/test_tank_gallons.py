"""A measured density is of what is charged; the heel under it keeps its own gallons."""

import pytest

from orders.production.tank_gallons import TankGallons


def test_by_hand():
    """30 gal stand; the model counts 29 of them and 530 in all, and the product is 2 % denser."""
    gallons = TankGallons(heel_gal=30.0, modelled_heel_gal=29.0, density_correction=1.02)
    assert gallons.of_model(530.0) == pytest.approx(30.0 + 501.0 / 1.02)
    assert gallons.of_model(29.0) == 30.0, "nothing was charged"


def test_there_and_back_again():
    gallons = TankGallons(heel_gal=30.0, modelled_heel_gal=29.0, density_correction=0.97)
    assert gallons.in_model(gallons.of_model(700.0)) == pytest.approx(700.0)
