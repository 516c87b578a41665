"""Eight people at one lot, each on a connection of its own: the balance is exact at the end.

On PostgreSQL the test database itself is used. SQLite's test database lives in memory, where
threads share one lock; there it is copied into a file first, which is what a plant runs on.
"""

import threading
from collections import Counter
from collections.abc import Callable
from decimal import Decimal
from typing import Any

import pytest
from django.db import connection

from blendshop.errors import BadInput, DomainError, IllegalMove
from orders.inventory.actions.lot_quality import hold_lot
from orders.inventory.actions.lots import transfer_lot, use_lot
from orders.inventory.levels import ledger_differences
from orders.models import StockLot, StockMovement
from tests.factories import BaseStockFactory
from tests.orders.inventory.stock_cases import make_lot

WORKERS = 8

pytestmark = pytest.mark.django_db(transaction=True)


@pytest.fixture
def lot(batch, plant_worker):
    return make_lot(BaseStockFactory(code="SHARED"), plant_worker, 1000)


def in_threads(*actions: Callable[[], Any]) -> list[Any]:
    """What each action gave, in order; all start together, each on its own connection."""
    start = threading.Barrier(len(actions))
    answers: list[Any] = [None] * len(actions)

    def run(index: int, action: Callable[[], Any]) -> None:
        try:
            start.wait(timeout=10)
            answers[index] = action()
        except Exception as error:  # noqa: BLE001 - handed to the test, which looks at it
            answers[index] = error
        finally:
            connection.close()

    threads = [
        threading.Thread(target=run, args=(index, action)) for index, action in enumerate(actions)
    ]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join(timeout=120)
    return answers


def look(question: Callable[[], Any]) -> Any:
    """An answer from the shared database."""
    [answer] = in_threads(question)
    if isinstance(answer, Exception):
        raise answer
    return answer


def charges(lot, batch, worker, each, mass):
    """``each`` worker's charges one after the other: how many went in and how many did not."""

    def work(name):
        found, mine = Counter(), StockLot.objects.get(pk=lot.pk)  # as read by this worker's page
        for number in range(each):
            try:
                use_lot(
                    lot=mine,
                    mass_lb=mass,
                    batch=batch,
                    acting_user=worker,
                    key=f"{name}-{number}",
                )
                found["in"] += 1
            except BadInput:
                found["refused"] += 1
        return found

    return [lambda name=name: work(name) for name in range(WORKERS)]


def state_of(lot):
    """Balance, sum of the movements, state, and what check_ledger would complain of."""
    moved = sum(StockMovement.objects.filter(lot=lot).values_list("mass_lb", flat=True))
    row = StockLot.objects.get(pk=lot.pk)
    return row.on_hand_lb, moved, row.state, ledger_differences()


def test_eight_workers_empty_a_lot_to_exactly_nothing(shared_database, lot, batch, plant_worker):
    answers = in_threads(*charges(lot, batch, plant_worker, 25, Decimal(5)))
    assert answers == [Counter({"in": 25})] * WORKERS
    assert look(lambda: state_of(lot)) == (0, 0, "exhausted", [])


def test_eight_workers_who_want_more_than_there_is_get_exactly_what_fits(
    shared_database, lot, batch, plant_worker
):
    """1,000 lb hold 136 charges of 7.3 lb; 200 are tried."""
    answers = in_threads(*charges(lot, batch, plant_worker, 25, 7.3))
    assert sum(answers, Counter()) == Counter({"in": 136, "refused": 64})
    assert look(lambda: state_of(lot)) == (Decimal("7.2"), Decimal("7.2"), "ok", [])


def test_one_charge_sent_eight_times_at_once_is_charged_once(
    shared_database, lot, batch, plant_worker
):
    def send():
        return use_lot(
            lot=lot, mass_lb=30, batch=batch, acting_user=plant_worker, key="the same charge"
        )

    answers = in_threads(*[send] * WORKERS)
    assert len({answer.pk for answer in answers}) == 1
    assert look(lambda: state_of(lot)) == (970, 970, "ok", [])


def test_lots_split_while_they_are_charged_lose_and_gain_nothing(
    shared_database, lot, batch, plant_worker
):
    def split(name):
        mine = StockLot.objects.get(pk=lot.pk)
        return [
            transfer_lot(
                lot=mine,
                mass_lb=10,
                location="Tank 9",
                acting_user=plant_worker,
                key=f"split-{name}-{number}",
            )
            for number in range(5)
        ]

    answers = in_threads(
        *charges(lot, batch, plant_worker, 5, 10)[:4], *[lambda n=n: split(n) for n in range(4)]
    )
    assert not [answer for answer in answers if isinstance(answer, Exception)]
    assert look(lambda: state_of(lot)) == (600, 600, "ok", [])
    assert look(lambda: StockLot.objects.filter(split_from=lot).count()) == 20


def test_a_lot_held_while_it_is_charged_gives_nothing_after_the_hold(
    shared_database, lot, batch, plant_worker
):
    held = threading.Event()

    def charge(name):
        late = []
        for number in range(10):
            was_held = held.is_set()
            try:
                use_lot(
                    lot=lot,
                    mass_lb=1,
                    batch=batch,
                    acting_user=plant_worker,
                    key=f"{name}-{number}",
                )
                late.append(was_held)
            except IllegalMove:
                continue
        return late

    def hold():
        hold_lot(lot=lot, why="A bad sample.", acting_user=plant_worker)
        held.set()
        return []

    answers = in_threads(hold, *[lambda n=n: charge(n) for n in range(4)])
    assert not any(flag for answer in answers for flag in answer)
    on_hand, moved, state, differences = look(lambda: state_of(lot))
    assert (state, differences) == ("held", [])
    assert on_hand == moved == 1000 - sum(len(answer) for answer in answers)


def test_without_the_guard_the_same_race_loses_pounds(shared_database, lot, batch, plant_worker):
    """The control: read, decide in Python, write. Both find enough, both take, one is lost."""
    both_have_looked = threading.Barrier(2)

    def careless(name):
        mine = StockLot.objects.get(pk=lot.pk)
        if mine.on_hand_lb < 600:
            raise BadInput("Not enough.")
        both_have_looked.wait(timeout=10)
        StockMovement.objects.create(
            lot=mine, kind="used", mass_lb=-600, batch=batch, key=name, who="careless"
        )
        mine.on_hand_lb -= 600
        mine.save()

    answers = in_threads(lambda: careless("a"), lambda: careless("b"))
    assert answers == [None, None]
    on_hand, moved, _, differences = look(lambda: state_of(lot))
    assert (on_hand, moved) == (400, -200)
    assert differences == [(lot, Decimal(-200))]


def test_with_the_guard_only_one_of_the_two_gets_it(shared_database, lot, batch, plant_worker):
    def careful(name):
        mine = StockLot.objects.get(pk=lot.pk)
        return use_lot(lot=mine, mass_lb=600, batch=batch, acting_user=plant_worker, key=name)

    answers = in_threads(lambda: careful("a"), lambda: careful("b"))
    assert [isinstance(answer, DomainError) for answer in answers].count(True) == 1
    assert look(lambda: state_of(lot)) == (400, 400, "ok", [])
