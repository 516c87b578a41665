"""A tank with a main scale of 1 lb divisions, which nobody has verified yet."""

import pytest

from orders.models import Tank
from tests.factories import TankFactory


@pytest.fixture
def tank(db: None) -> Tank:
    return TankFactory(fine_step_lb=0.1, fine_max_lb=100)
