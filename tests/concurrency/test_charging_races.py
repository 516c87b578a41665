"""The same charge from eight threads is one charge; different ones all count."""

from decimal import Decimal

import pytest

from blendshop.errors import DomainError
from orders.inventory.levels import ledger_differences
from orders.models import Batch, Charge, StockLot, StockMovement
from orders.production.actions.charging import charge_lot
from orders.production.steps import batch_steps
from tests.concurrency.test_ledger_races import WORKERS, in_threads
from tests.orders.production.charging_cases import lots_of, new_key

pytestmark = pytest.mark.django_db(transaction=True)


@pytest.fixture
def lot(batch, plant_worker):
    """The lot of the second stock; the first, water, is in."""
    lots = lots_of(batch, plant_worker)
    first, second = batch_steps(batch)[:2]
    charge_lot(
        batch=batch, step=1, lot=None, mass_lb=first.target_lb, key=new_key(),
        acting_user=plant_worker,
    )  # fmt: skip
    return lots[second.code]


def charging(batch, lot, by, key):
    def charge():
        return charge_lot(
            batch=Batch.objects.get(pk=batch.pk),
            step=2,
            lot=StockLot.objects.get(pk=lot.pk),
            mass_lb=Decimal(10),
            key=key,
            acting_user=by,
        ).pk

    return charge


def counted():
    """What all threads see, asked on a connection that shares their database."""
    return [
        Charge.objects.filter(step=2).count(),
        StockMovement.objects.filter(kind="used").count(),
        [str(lot) for lot, _ in ledger_differences()],
    ]


def test_the_same_key_from_eight_threads_charges_once(batch, lot, plant_worker, shared_database):
    charge = charging(batch, lot, plant_worker, new_key())
    answers = in_threads(*[charge] * WORKERS)
    assert not [answer for answer in answers if isinstance(answer, DomainError | Exception)]
    assert len(set(answers)) == 1
    assert in_threads(counted) == [[1, 1, []]]


def test_eight_charges_of_their_own_all_count(batch, lot, plant_worker, shared_database):
    answers = in_threads(*[charging(batch, lot, plant_worker, new_key()) for _ in range(WORKERS)])
    assert len(set(answers)) == WORKERS
    assert in_threads(counted) == [[WORKERS, WORKERS, []]]

    def left():
        return StockLot.objects.get(pk=lot.pk).on_hand_lb

    assert in_threads(left) == [50_000 - 10 * WORKERS]
