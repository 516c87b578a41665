"""Eight who want to be the first person of an empty site at once: one is."""

import pytest
from django.db import connection

from blendshop.accounts.actions.first_person import make_first_person, make_office_person
from blendshop.accounts.models import User
from blendshop.errors import IllegalMove
from tests.concurrency.test_ledger_races import WORKERS, in_threads

pytestmark = pytest.mark.django_db(transaction=True)


@pytest.fixture
def lot():
    """No lot: these threads reach for an empty site."""
    connection.ensure_connection()


@pytest.mark.parametrize("make", [make_first_person, make_office_person])
def test_one_of_eight_becomes_the_first_person(lot, shared_database, make):
    def become(number):
        return lambda: make(
            name=f"Person {number}",
            email=f"person{number}@plant.example",
            password="liquid-lawn-by-the-tote",
        )

    answers = in_threads(*[become(number) for number in range(WORKERS)])
    assert sum(isinstance(answer, User) for answer in answers) == 1
    assert sum(isinstance(answer, IllegalMove) for answer in answers) == WORKERS - 1
    assert in_threads(lambda: User.objects.count()) == [1]
