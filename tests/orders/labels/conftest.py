"""The demo plant, whose blends the labels are drawn of."""

import pytest

from blendshop.accounts.models import User
from tests.orders.labels.label_cases import make_demo_plant


@pytest.fixture
def maker(db: None) -> User:
    """Somebody of the demo plant with every role's deeds."""
    return make_demo_plant()
