"""Two orders of one customer at once: together they do not slip under what may be open."""

import pytest
from django.db import connection

from orders.models import Order
from orders.reordering.actions import confirm_reorder
from orders.reordering.sources import reorder_of_order
from tests.concurrency.test_ledger_races import in_threads, look
from tests.factories import BaseStockFactory
from tests.orders.inventory.stock_cases import make_lot
from tests.orders.ordering.gate_cases import agree_limits, review

pytestmark = pytest.mark.django_db(transaction=True)


@pytest.fixture
def lot(batch, plant_worker):
    return make_lot(BaseStockFactory(code="SHARED"), plant_worker, 1000)


@pytest.fixture
def before(batch, company):
    """An order to have again, of a company that may have one more of it open and not two."""
    order = Order.objects.get()
    review(order.lines.get().revision)
    agree_limits(company, most_open=2 * order.total + 1)
    return order


def test_the_second_of_two_orders_at_once_is_a_request(before, customer, lot, shared_database):
    reorder = reorder_of_order(before)

    def click(once):
        connection.ensure_connection()
        made = confirm_reorder(
            reorder=reorder, acting_user=customer, seen_digest=reorder.digest, once=once
        )
        return made.status

    answers = in_threads(*(lambda once=once: click(once) for once in ("a", "b", "c")))
    assert sorted(map(str, answers)) == ["open", "requested", "requested"]
    open_now = look(lambda: Order.objects.open().filter(company=before.company).count())
    assert open_now == 2
