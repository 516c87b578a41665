"""Two batches begun in one tank at one moment: one is in it, the other has to wait."""

from decimal import Decimal

import pytest

from blendshop.errors import DomainError, IllegalMove
from formulas.models import BlendRevision
from orders.models import Batch, TankEntry
from orders.production.actions.charging import charge_lot
from tests.concurrency.test_ledger_races import in_threads
from tests.orders.production.charging_cases import lots_of, new_key
from tests.orders.tanks.tank_cases import another

pytestmark = pytest.mark.django_db(transaction=True)


@pytest.fixture
def batches(batch, rep, company, plant_worker):
    revision = BlendRevision.objects.get(pk=batch.load_plan.revision_id)
    return [batch, another(rep, company, plant_worker, revision)]


@pytest.fixture
def lot(batches, plant_worker):
    """A lot of what comes after the water; nothing is charged yet."""
    return next(iter(lots_of(batches[0], plant_worker).values()))


def beginning(batch, by):
    def charge():
        return charge_lot(
            batch=Batch.objects.get(pk=batch.pk),
            step=1,
            lot=None,
            mass_lb=Decimal(10),
            key=new_key(),
            acting_user=by,
        ).pk

    return charge


def test_of_two_batches_begun_in_one_tank_at_once_one_has_to_wait(
    batches, lot, plant_worker, shared_database
):
    answers = in_threads(*(beginning(batch, plant_worker) for batch in batches))
    refused = [answer for answer in answers if isinstance(answer, DomainError | Exception)]
    assert [type(answer) for answer in refused] == [IllegalMove]
    assert "fill or drain it" in refused[0].message

    def begun():
        return TankEntry.objects.filter(kind="begun").count()

    assert in_threads(begun) == [1]
