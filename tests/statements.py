"""Which kinds of statements a test sends to the database: ``--statements=FOLDER`` keeps a record.

A kind is what one database may do otherwise than another: which tables are read together or
written, functions, searches, groups, order and locks, and the class of the error where it was
refused. Which plain columns are read, set or compared, with how many values, makes no kind of its
own; nor do numbers and savepoints. What a wider fixture or ``RememberedRows`` built counts for each
test that stands on it, since whichever comes first has it built.
"""

import contextlib
import json
import os
import re
import time
from collections.abc import Callable, Iterable, Iterator
from hashlib import blake2b
from pathlib import Path
from typing import Any, Final

import pytest
from django.db import connections
from django.db.backends.signals import connection_created

from tests.second_run import rerun_of

_COLUMN: Final = r'(?:(?:"\w+"|[A-Z]+\d+)\.)?"\w+"'
_ALIKE: Final = tuple(
    (re.compile(varying), alike)
    for varying, alike in (
        (r'"s\d+_x\d+"', '"savepoint"'),
        (r"\((?:%s(?:::[\w ]+)?(?:, )?)+\)", "(?)"),
        (r"\(\?\)(?:, \(\?\))+", "(?)"),
        (r"(?:WHEN (?:(?!WHEN|THEN).)+ THEN %s ?)+", "WHEN ? "),
        (r"\b\d+\b", "0"),
        # Plain comparisons; a condition of its own is a column that is true or not.
        (rf"{_COLUMN} (?:=|<|>|<=|>=) (?:%s|0|{_COLUMN}|\({_COLUMN}\))", "plain"),
        (rf"{_COLUMN} IN \((?:\?|%s(?:, %s)*)\)", "plain"),
        (rf"{_COLUMN} IS (?:NOT )?NULL", "plain"),
        (
            rf"(?<=WHERE |..AND |...OR |..NOT ){_COLUMN}(?= AND | OR |\)|$| ORDER BY| LIMIT)",
            "plain",
        ),
        (rf"(?<=[ (]\(){_COLUMN}(?= AND | OR )", "plain"),
        (rf"SET (?:(?:plain|{_COLUMN} = NULL)(?:, )?)+", "SET columns"),
        (r'SELECT (?:%s AS "a"|COUNT\(\*\) AS "__count")(?= FROM)', "SELECT columns"),
        (rf'SELECT (?:{_COLUMN}(?: AS "\w+")?(?:, )?)+(?= FROM)', "SELECT columns"),
        (r" LIMIT \d+(?: OFFSET \d+)?", ""),
    )
)
_JOINED: Final = re.compile(r"\(plain\)|NOT plain\b|\bplain (?:AND|OR) plain\b")
_PLAIN_PARTS: Final = (
    (re.compile(r' (?:INNER|LEFT OUTER) JOIN ("\w+") (?:[A-Z]+\d+ )?ON plain'), r" JOIN \1"),
    (re.compile(r" WHERE plain\b"), ""),
)
#: Asked for by whichever test of a process comes first.
_KEPT_BY_THE_PROCESS: Final = ('"django_content_type"', '"django_site"')
#: Whichever worker comes first makes the tables, for no test in particular.
_MIGRATES: Final = "django_db_setup"

_kinds: dict[str, str] = {}
_sent: set[str] = set()


@contextlib.contextmanager
def sent_meanwhile() -> Iterator[set[str]]:
    """Collects what is sent inside; it counts outside too."""
    outside = set(_sent)
    _sent.clear()
    inside: set[str] = set()
    try:
        yield inside
    finally:
        inside |= _sent
        _sent.update(outside)


def sent_before(kinds: Iterable[str]) -> None:
    """The running test stands on what was sent for an earlier one."""
    _sent.update(kinds)


def kind_of(statement: str) -> str:
    """16 hex digits, the same for statements of one kind."""
    if statement not in _kinds:
        text = _in_words_of_its_kind(statement)
        left_out = any(table in text for table in _KEPT_BY_THE_PROCESS)
        _kinds[statement] = "" if left_out else blake2b(text.encode(), digest_size=8).hexdigest()
    return _kinds[statement]


def _in_words_of_its_kind(text: str) -> str:
    for varying, alike in _ALIKE:
        text = varying.sub(alike, text)
    while (joined := _JOINED.sub("plain", text)) != text:
        text = joined
    for part, alike in _PLAIN_PARTS:
        text = part.sub(alike, text)
    return text


def _collect(execute: Callable[..., Any], statement: Any, *details: Any) -> Any:
    kind = kind_of(str(statement))
    try:
        answer = execute(statement, *details)
    except Exception as error:
        _sent.add(f"{kind} {type(error).__name__}")
        raise
    if kind:
        _sent.add(kind)
    return answer


def _listen(connection: Any, **_signal: Any) -> None:
    if _collect not in connection.execute_wrappers:
        connection.execute_wrappers.append(_collect)


class StatementRecord:
    """A file for each worker in ``folder``: ``{node id: {"rerun", "cpu_s", "kinds"}}``."""

    def __init__(self, folder: Path) -> None:
        self._folder = folder
        self._tests: dict[str, dict[str, Any]] = {}
        self._by_fixture: dict[Any, set[str]] = {}
        folder.mkdir(parents=True, exist_ok=True)
        connection_created.connect(_listen)

    @pytest.hookimpl(hookwrapper=True)
    def pytest_fixture_setup(self, fixturedef: Any) -> Iterator[None]:
        if fixturedef.scope == "function" or fixturedef.argname == _MIGRATES:
            yield
            return
        with sent_meanwhile() as kinds:
            yield
        self._by_fixture[fixturedef] = kinds

    @pytest.hookimpl(hookwrapper=True)
    def pytest_runtest_protocol(self, item: pytest.Item) -> Iterator[None]:
        for connection in connections.all(initialized_only=True):
            _listen(connection)
        _sent.clear()
        begun_s = time.process_time()
        yield
        for fixtures in item._fixtureinfo.name2fixturedefs.values():  # type: ignore[attr-defined]
            for each in fixtures:
                _sent.update(self._by_fixture.get(each, ()))
        cpu_s = round(time.process_time() - begun_s, 3)
        self._tests[item.nodeid] = {"rerun": rerun_of(item), "cpu_s": cpu_s, "kinds": sorted(_sent)}

    def pytest_sessionfinish(self) -> None:
        worker = os.environ.get("PYTEST_XDIST_WORKER", "alone")
        path = self._folder / f"{worker}.json"
        path.write_text(json.dumps(self._tests), encoding="utf-8")
