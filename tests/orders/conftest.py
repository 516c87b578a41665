"""The road every subject walks: shop, blend, order, batch, lots; a subject's own is beside it."""

from collections.abc import Mapping

import pytest

from blendshop.accounts.models import Company, User
from formulas.models import BlendRevision
from orders.models import Batch, Order, StockLot, Tank
from orders.planning.actions.planning import plan_batches
from tests.orders.planning.plant_cases import make_shop, placed_order, save_half_slow
from tests.orders.production.charging_cases import lots_of


@pytest.fixture
def shop(db: None) -> None:
    """A plant that can price and blend."""
    make_shop()


@pytest.fixture
def revision(shop: None, rep: User, company: Company) -> BlendRevision:
    """The company's half-slow blend."""
    return save_half_slow(rep, company)


@pytest.fixture
def order(revision: BlendRevision, rep: User, company: Company) -> Order:
    """Two totes of the half-slow blend."""
    return placed_order(rep, company, revision=revision, quantity=2)


@pytest.fixture
def batch(order: Order, plant_worker: User) -> Batch:
    """The order planned as one load in the plant's only tank."""
    (batch,) = plan_batches(order=order, tank=Tank.objects.get(), acting_user=plant_worker)
    return batch


@pytest.fixture
def lots(batch: Batch, plant_worker: User) -> Mapping[str, StockLot]:
    """A plentiful lot of each stock of the batch, by the stock's code."""
    return lots_of(batch, plant_worker)
