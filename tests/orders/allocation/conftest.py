"""The plant of the stock plan: too little of one stock, and another that can stand in for it."""

import pytest

from blendshop.accounts.models import Company, User
from formulas.models import BlendRevision
from orders.models import Order
from tests.orders.allocation.stock_plan_cases import make_plan_shop, make_scarce, make_two


@pytest.fixture
def shop(db: None) -> None:
    """The shop, and a dearer urea solution that can stand in for UAN."""
    make_plan_shop()


@pytest.fixture
def two(revision: BlendRevision, rep: User, company: Company) -> tuple[Order, Order]:
    """Two orders alike; the first is due earlier."""
    return make_two(revision, rep, company)


@pytest.fixture
def scarce(two: tuple[Order, Order], formulator: User) -> tuple[Order, Order]:
    """The two orders with UAN for one of them."""
    return make_scarce(two, formulator)
