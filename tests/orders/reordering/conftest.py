"""A plant book to reorder from."""

import pytest

from tests.factories import BaseStockFactory
from tests.orders.ordering.gate_cases import agree_limits
from tests.orders.planning.plant_cases import WISH, placed_order, save_half_slow


@pytest.fixture
def spare_slow_stock(db):
    """A second, dearer source of slow-release nitrogen."""
    return BaseStockFactory(
        code="MUS",
        name="methylene-urea solution",
        density_lb_per_gal=10.5,
        analysis={"N.urea": 9.0, "N.slow": 21.0},
        cost_per_lb="0.6000",
    )


@pytest.fixture
def weak_order(shop, rep, company):
    """A tote of a blend with plenty of water, where salts contract most."""
    wish = {**WISH, "targets": [{"nutrient": "N", "min": 14}], "slow_release_pct": {"min": 10}}
    revision = save_half_slow(rep, company, name="Weak", wish=wish)
    return placed_order(rep, company, quantity=2, revision=revision)


@pytest.fixture
def order(order, company):
    """The order of everywhere, of a company that may order its recipe by itself."""
    agree_limits(company)
    return order
