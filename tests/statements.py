"""Which kinds of statements a test sends to the database: ``--statements=FOLDER`` keeps a record.

A kind is the text with its numbers, lists of marks and savepoints made alike, and the class of the
error where it was refused. What a wider fixture or ``RememberedRows`` built counts for each test
that stands on it, since whichever comes first has it built.
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

_MADE_ALIKE: Final = (
    (re.compile(r'"s\d+_x\d+"'), '"savepoint"'),
    (re.compile(r"\((?:%s(?:::[\w ]+)?(?:, )?)+\)"), "(?)"),
    (re.compile(r"\(\?\)(?:, \(\?\))+"), "(?)"),
    (re.compile(r"(?:WHEN (?:(?!WHEN|THEN).)+ THEN %s ?)+"), "WHEN ? "),
    (re.compile(r"\b\d+\b"), "0"),
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
        text = statement
        for varying, alike in _MADE_ALIKE:
            text = varying.sub(alike, text)
        left_out = any(table in text for table in _KEPT_BY_THE_PROCESS)
        _kinds[statement] = "" if left_out else blake2b(text.encode(), digest_size=8).hexdigest()
    return _kinds[statement]


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
