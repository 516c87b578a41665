"""The demo plant, whose blends the labels are drawn of."""

from collections.abc import Callable, Mapping
from decimal import Decimal

import pytest

from blendshop.accounts.models import User
from orders.models import Batch, BatchPart, StockLot
from orders.production.actions.batches import mark_made
from tests.orders.labels.label_cases import make_demo_plant
from tests.orders.labels.room_cases import with_room
from tests.orders.production.charging_cases import charge_all, lots_of


@pytest.fixture
def maker(db: None) -> User:
    """Somebody of the demo plant with every role's deeds."""
    return make_demo_plant()


@pytest.fixture
def batch(batch: Batch) -> Batch:
    """The order planned as one load whose plan has tolerances and promises its lines."""
    return with_room(batch)


@pytest.fixture
def charged(batch: Batch, plant_worker: User) -> Callable[..., BatchPart]:
    """``charged(TRZ=lot)`` charges and makes the batch from usual lots but those."""

    def charge(off_lb: Mapping[str, Decimal] | None = None, **lots: StockLot) -> BatchPart:
        usual = lots_of(batch, plant_worker)
        charge_all(batch, usual | lots, plant_worker, off_lb=off_lb)
        mark_made(batch=batch, acting_user=plant_worker)
        batch.refresh_from_db()
        return batch.parts.get()

    return charge


@pytest.fixture
def office_and_plant(office):
    """Somebody who may order and plan."""
    office.is_superuser = True
    office.save()
    return office


@pytest.fixture
def part(batch) -> BatchPart:
    return batch.parts.get()
