"""Two write to the catalogue at once: one waits for the other's version, and none is given up."""

import threading
from datetime import date
from decimal import Decimal

import pytest
from django.db import connection, transaction

from formulas.engine_bridge import load_catalogue
from formulas.models import BaseStock
from formulas.stocks.actions.stocks import mark_short, write_cost
from tests.factories import make_simple_catalogue

pytestmark = [pytest.mark.django_db(transaction=True), pytest.mark.postgres]

TODAY = date(2026, 6, 1)


@pytest.mark.skipif(connection.vendor != "postgresql", reason="SQLite has one writer at a time")
def test_a_cost_of_a_stock_that_somebody_holds_waits_for_nobody_who_waits_for_it(formulator):
    """A new cost points to its stock, which is looked at when the transaction ends."""
    make_simple_catalogue()
    held, version_taken = threading.Event(), threading.Event()
    went_wrong: list[Exception] = []

    def says_it_is_short() -> None:
        try:
            with transaction.atomic():
                stock = BaseStock.objects.select_for_update(no_key=True).get(code="UAN")
                held.set()
                assert version_taken.wait(timeout=30)
                mark_short(acting_user=formulator, stock=stock, short=True)
        except Exception as error:  # noqa: BLE001 - handed to the test
            went_wrong.append(error)
        finally:
            connection.close()

    other = threading.Thread(target=says_it_is_short)
    other.start()
    assert held.wait(timeout=30)
    with transaction.atomic():
        for code in ("TRZ", "UAN"):
            write_cost(
                acting_user=formulator,
                stock=BaseStock.objects.get(code=code),
                amount=Decimal("0.5"),
                unit="lb",
                effective_from=TODAY,
            )
        version_taken.set()
        other.join(timeout=2)  # it waits for the version we hold
        assert other.is_alive()
    other.join(timeout=30)
    assert went_wrong == []
    catalogue = load_catalogue(TODAY)
    assert "UAN" in catalogue.left_out
    assert catalogue.cost_per_lb["UAN"] == Decimal("0.5")
