"""Numbers run without gaps, never repeat and begin again each year."""

import threading
from datetime import date

import pytest
from django.db import connection, transaction

from orders.models import NumberSeries
from orders.records import numbering


@pytest.mark.django_db
def test_numbers_count_up_and_each_prefix_has_its_own_series(monkeypatch):
    monkeypatch.setattr(numbering.timezone, "localdate", lambda: date(2026, 3, 4))
    assert [numbering.next_number(prefix) for prefix in ("Q", "Q", "SO", "Q")] == [
        "Q-2026-0001",
        "Q-2026-0002",
        "SO-2026-0001",
        "Q-2026-0003",
    ]


@pytest.mark.django_db
def test_a_new_year_begins_at_one_again(monkeypatch):
    monkeypatch.setattr(numbering.timezone, "localdate", lambda: date(2026, 12, 31))
    numbering.next_number("Q")
    monkeypatch.setattr(numbering.timezone, "localdate", lambda: date(2027, 1, 1))
    assert numbering.next_number("Q") == "Q-2027-0001"


@pytest.mark.django_db
def test_a_number_of_a_failed_transaction_is_given_out_again():
    numbering.next_number("Q")
    with transaction.atomic():
        assert numbering.next_number("Q").endswith("-0002")
        transaction.set_rollback(True)
    assert numbering.next_number("Q").endswith("-0002")


@pytest.mark.django_db(transaction=True)
def test_a_number_is_refused_outside_a_transaction():
    with pytest.raises(RuntimeError, match="inside the transaction"):
        numbering.next_number("Q")
    assert not NumberSeries.objects.exists()


@pytest.mark.django_db
def test_losing_the_race_to_open_a_series_takes_the_next_number(monkeypatch):
    """Between our look and our insert another request inserts the row and commits."""
    create, year = NumberSeries.objects.create, numbering.timezone.localdate().year

    def beaten(**values):
        raise numbering.IntegrityError("number_series_is_one_row_a_year")

    monkeypatch.setattr(NumberSeries.objects, "create", beaten)
    first_look = iter([0])
    update = type(NumberSeries.objects.all()).update

    def update_after_the_winner(self, **values):
        if next(first_look, None) == 0:
            create(prefix="Q", year=year, last=1)
            return 0
        return update(self, **values)

    monkeypatch.setattr(type(NumberSeries.objects.all()), "update", update_after_the_winner)
    assert numbering.next_number("Q") == f"Q-{year}-0002"


@pytest.mark.postgres
@pytest.mark.django_db(transaction=True)
@pytest.mark.skipif(connection.vendor != "postgresql", reason="needs two real connections")
def test_ten_at_once_never_share_a_number():
    numbers, start = [], threading.Barrier(10)

    def take():
        try:
            start.wait(timeout=10)
            with transaction.atomic():
                numbers.append(numbering.next_number("Q"))
        finally:
            connection.close()

    threads = [threading.Thread(target=take) for _ in range(10)]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    assert sorted(number[-4:] for number in numbers) == [f"{n:04d}" for n in range(1, 11)]
