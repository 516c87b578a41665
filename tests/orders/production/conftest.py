"""A batch on its way over the plant floor: made, measured, released."""

from typing import Final

import pytest

from blendshop.accounts.models import User
from orders.models import Batch
from orders.production.actions.batches import release_batch
from tests.orders.production.charging_cases import charged_and_made, read_density
from tests.remembered_rows import RememberedRows

_MADE: Final = RememberedRows(charged_and_made)
_MEASURED: Final = RememberedRows(read_density)


def _release(batch: Batch, plant_worker: User) -> None:
    release_batch(batch=batch, acting_user=plant_worker)


_RELEASED: Final = RememberedRows(_release)


@pytest.fixture
def made(batch: Batch, plant_worker: User) -> Batch:
    """Charged to the pound and mixed; nothing has been read yet."""
    _MADE(batch, plant_worker)
    batch.refresh_from_db()
    return batch


@pytest.fixture
def measured(made: Batch, plant_worker: User) -> Batch:
    """Made, with a density in the middle of its window."""
    _MEASURED(made, plant_worker)
    made.refresh_from_db()
    return made


@pytest.fixture
def released(measured: Batch, plant_worker: User) -> Batch:
    """Measured, and free to be filled."""
    _RELEASED(measured, plant_worker)
    measured.refresh_from_db()
    return measured
