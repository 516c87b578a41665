"""A tank and the blend that is made in it again and again."""

from collections.abc import Callable

import pytest

from blendshop.accounts.models import Company, User
from formulas.models import BlendRevision
from orders.models import Batch, Tank
from tests.orders.tanks.tank_cases import another


@pytest.fixture
def tank(shop: None) -> Tank:
    """1,200 gal, signed empty and rinsed: its usual heel is 12 gal."""
    return Tank.objects.get()


@pytest.fixture
def load(
    rep: User, company: Company, plant_worker: User, revision: BlendRevision, tank: Tank
) -> Callable[[], Batch]:
    """``load()`` plans one more tote of the blend."""
    return lambda: another(rep, company, plant_worker, revision)
