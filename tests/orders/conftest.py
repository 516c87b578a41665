"""The road every subject walks: shop, blend, order, batch, lots; a subject's own is beside it."""

from collections.abc import Mapping
from typing import Final

import pytest

from blendshop.accounts.models import Company, User
from formulas.models import BlendRevision
from orders.models import Batch, Order, StockLot, Tank
from orders.planning.actions.planning import plan_batches
from tests.orders.planning.plant_cases import make_shop, placed_order, save_half_slow
from tests.orders.production.charging_cases import lots_of
from tests.remembered_rows import RememberedRows


def _two_totes(rep: User, company: Company, revision: BlendRevision) -> Order:
    return placed_order(rep, company, revision=revision, quantity=2)


def _one_load(order: Order, plant_worker: User) -> Batch:
    (batch,) = plan_batches(order=order, tank=Tank.objects.get(), acting_user=plant_worker)
    return batch


_HALF_SLOW: Final = RememberedRows(save_half_slow)
_TWO_TOTES: Final = RememberedRows(_two_totes)
_ONE_LOAD: Final = RememberedRows(_one_load)
_LOTS: Final = RememberedRows(lots_of)


@pytest.fixture
def shop(db: None) -> None:
    """A plant that can price and blend."""
    make_shop()


@pytest.fixture
def revision(shop: None, rep: User, company: Company) -> BlendRevision:
    """The company's half-slow blend."""
    revision: BlendRevision = _HALF_SLOW(rep, company)
    return revision


@pytest.fixture
def order(revision: BlendRevision, rep: User, company: Company) -> Order:
    """Two totes of the half-slow blend."""
    order: Order = _TWO_TOTES(rep, company, revision)
    return order


@pytest.fixture
def batch(order: Order, plant_worker: User) -> Batch:
    """The order planned as one load in the plant's only tank."""
    batch: Batch = _ONE_LOAD(order, plant_worker)
    return batch


@pytest.fixture
def lots(batch: Batch, plant_worker: User) -> Mapping[str, StockLot]:
    """A plentiful lot of each stock of the batch, by the stock's code."""
    lots: Mapping[str, StockLot] = _LOTS(batch, plant_worker)
    return lots
