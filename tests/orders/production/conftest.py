"""A batch on its way over the plant floor: made, measured, released."""

import pytest

from blendshop.accounts.models import User
from orders.models import Batch
from orders.production.actions.batches import release_batch
from tests.orders.production.charging_cases import charged_and_made, read_density


@pytest.fixture
def made(batch: Batch, plant_worker: User) -> Batch:
    """Charged to the pound and mixed; nothing has been read yet."""
    charged_and_made(batch, plant_worker)
    return batch


@pytest.fixture
def measured(made: Batch, plant_worker: User) -> Batch:
    """Made, with a density in the middle of its window."""
    read_density(made, plant_worker)
    return made


@pytest.fixture
def released(measured: Batch, plant_worker: User) -> Batch:
    """Measured, and free to be filled."""
    release_batch(batch=measured, acting_user=plant_worker)
    return measured
