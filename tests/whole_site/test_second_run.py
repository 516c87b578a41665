"""What a second run leaves out is made up for, and the list names tests that are there."""

import re
from pathlib import Path

import pytest
from django.db import DatabaseError, connection

from tests.second_run import Rerun, Sending, chosen, lost, settled_tests
from tests.statements import kind_of, sent_meanwhile


def _sending(cpu_s: float, *kinds: str, rerun: Rerun = Rerun.UNLESS_SETTLED) -> Sending:
    return Sending(rerun, cpu_s, frozenset(kinds))


def test_the_costliest_is_left_out_where_two_others_send_each_of_its_statements() -> None:
    record = {
        "costly": _sending(9.0, "read", "write"),
        "a": _sending(1.0, "read", "write"),
        "b": _sending(1.0, "read", "write"),
        "alone": _sending(5.0, "read", "sum"),
        "meets": _sending(7.0, "read", rerun=Rerun.ALWAYS),
    }
    assert chosen(record) == ["costly"]
    assert lost(record, frozenset(chosen(record))) == {}


def test_a_statement_that_only_a_left_out_test_sends_any_more_is_said() -> None:
    record = {"left out": _sending(9.0, "read", "sum"), "stays": _sending(1.0, "read")}
    assert lost(record, frozenset({"left out"})) == {"left out": 1}


def test_statements_of_one_kind_differ_in_numbers_lists_and_savepoints_only() -> None:
    pairs = [
        ("SELECT a FROM t WHERE b IN (%s, %s) LIMIT 21", "SELECT a FROM t WHERE b IN (%s) LIMIT 5"),
        ('SAVEPOINT "s1400_x7"', 'SAVEPOINT "s1399_x12"'),
        ("INSERT INTO t VALUES (%s, %s), (%s, %s)", "INSERT INTO t VALUES (%s, %s)"),
    ]
    for one, other in pairs:
        assert kind_of(one) == kind_of(other)
    assert kind_of("SELECT a FROM t ORDER BY a") != kind_of("SELECT a FROM t")


@pytest.mark.django_db
@pytest.mark.one_database
def test_a_refused_statement_is_another_kind_than_an_answered_one(
    request: pytest.FixtureRequest,
) -> None:
    if not request.config.getoption("--statements"):
        pytest.skip("nothing is recorded in this run")
    with sent_meanwhile() as answered, connection.cursor() as cursor:
        cursor.execute("SELECT 1")
    with sent_meanwhile() as refused, pytest.raises(DatabaseError), connection.cursor() as cursor:
        cursor.execute("SELECT nowhere")
    assert answered == {kind_of("SELECT 1")}
    assert refused == {f"{kind_of('SELECT nowhere')} OperationalError"}


def test_each_test_of_the_list_is_there() -> None:
    root = Path(__file__).parents[2]
    gone = []
    for each in settled_tests():
        path, _, name = each.partition("::")
        file = root / path
        if not file.exists() or not re.search(rf"def {name}\b", file.read_text(encoding="utf-8")):
            gone.append(each)
    assert not gone, "run `make second-run`, or take these lines out of tests/second_run.txt"
