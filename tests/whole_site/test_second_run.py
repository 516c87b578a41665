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
    assert lost(record, frozenset(chosen(record))) == []


def test_a_statement_that_only_a_left_out_test_sends_any_more_is_said() -> None:
    record = {"left out": _sending(9.0, "read", "sum"), "stays": _sending(1.0, "read")}
    assert lost(record, frozenset({"left out"})) == ["left out"]


@pytest.mark.parametrize(
    ("one", "other"),
    [
        ('SAVEPOINT "s1400_x7"', 'SAVEPOINT "s1399_x12"'),
        ('INSERT INTO "t" VALUES (%s, %s), (%s, %s)', 'INSERT INTO "t" VALUES (%s, %s)'),
        ('SELECT "t"."a" FROM "t" WHERE "t"."b" IN (%s, %s) LIMIT 21', 'SELECT "t"."a" FROM "t"'),
        (
            (
                'SELECT "t"."a", "u"."b" AS "c" FROM "t" INNER JOIN "u" ON ("t"."u_id" = "u"."id") '
                'WHERE (NOT ("t"."a" = %s AND "t"."a" IS NOT NULL) OR "u"."open") ORDER BY "t"."a"'
            ),
            (
                'SELECT "u"."b" FROM "t" LEFT OUTER JOIN "u" ON ("t"."u_id" = "u"."id") '
                'WHERE "t"."a" >= %s ORDER BY "t"."a"'
            ),
        ),
        (
            'UPDATE "t" SET "a" = %s, "b" = NULL WHERE "t"."id" = %s',
            'UPDATE "t" SET "b" = %s WHERE "t"."id" IN (%s, %s)',
        ),
    ],
)
def test_numbers_lists_and_plain_columns_make_no_kind_of_their_own(one: str, other: str) -> None:
    assert kind_of(one) == kind_of(other)


@pytest.mark.parametrize(
    "other",
    [
        'SELECT "t"."a" FROM "t" ORDER BY "t"."a"',
        'SELECT DISTINCT "t"."a" FROM "t"',
        'SELECT "t"."a" FROM "t" FOR UPDATE',
        'SELECT "t"."a" FROM "t" WHERE "t"."a" LIKE %s',
        'SELECT SUM("t"."a") AS "b" FROM "t"',
        'SELECT "t"."a" FROM "t" WHERE "t"."a" = (LOWER("t"."a"))',
        'SELECT "t"."a" FROM "t" INNER JOIN "u" ON ("t"."u_id" = "u"."id")',
        'SELECT "t"."a" FROM "t" WHERE "t"."a" IN (SELECT U0."a" FROM "u" U0)',
        'SELECT "t"."a", COUNT("t"."b") AS "c" FROM "t" GROUP BY 1',
        'DELETE FROM "t"',
    ],
)
def test_what_databases_may_do_otherwise_is_a_kind_of_its_own(other: str) -> None:
    assert kind_of('SELECT "t"."a" FROM "t"') != kind_of(other)


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
