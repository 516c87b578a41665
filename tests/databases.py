"""The suite's databases: migrated once a run, copied for each worker, put back after a commit.

A migration costs many seconds of processor time, so the first worker that needs a database migrates
a template and every worker takes a copy. After a test that commits (``transactional_db``, the live
server) the copy gets the template's rows back. Django's own flush empties every table and makes
content types, permissions and role groups anew, which costs more than most tests.
"""

import contextlib
import fcntl
import os
import sqlite3
from collections.abc import Iterator
from pathlib import Path
from typing import Any, Protocol

import psycopg
import pytest
from django.core.management import call_command
from django.db import connection, transaction
from django.test import TransactionTestCase
from psycopg import sql

WORKER = os.environ.get("PYTEST_XDIST_WORKER", "alone")


class Copies(Protocol):
    def make_template(self) -> None: ...
    def make_copy(self) -> None: ...
    def restore(self) -> None: ...
    def drop(self) -> None: ...


def _use(name: str) -> None:
    """From here on Django's connections lead to the database ``name``."""
    connection.close()
    if connection.vendor == "postgresql":
        connection.close_pool()
    connection.settings_dict["NAME"] = name


def _migrate() -> None:
    call_command("migrate", verbosity=0, interactive=False, run_syncdb=True)


class SqliteCopies:
    """A file each: a live server's threads need connections of their own, as in a plant."""

    def __init__(self, folder: Path) -> None:
        self._template = folder / "migrated.sqlite3"
        self._copy = folder / f"{WORKER}.sqlite3"

    def make_template(self) -> None:
        _use(str(self._template))
        _migrate()
        connection.close()  # the last connection takes the write-ahead log with it

    def make_copy(self) -> None:
        self._copy.write_bytes(self._template.read_bytes())
        _use(str(self._copy))

    def restore(self) -> None:
        connection.ensure_connection()
        with contextlib.closing(sqlite3.connect(self._template)) as template:
            template.backup(connection.connection)

    def drop(self) -> None:
        self._copy.unlink(missing_ok=True)


class PostgresCopies:
    """``CREATE DATABASE … TEMPLATE``; the template keeps its rows in a schema of their own."""

    def __init__(self, asked: str) -> None:
        known = connection.get_connection_params()
        names = ("host", "port", "user", "password")
        self._server = {name: known[name] for name in names if name in known}
        self._template = f"test_{asked}_migrated"
        self._copy = f"test_{asked}_{WORKER}"
        self._tables: list[str] = []
        self._migrated: list[str] = []

    def _run(self, command: str, *names: str) -> None:
        with psycopg.connect(**self._server, dbname="postgres", autocommit=True) as server:
            server.execute(sql.SQL(command).format(*map(sql.Identifier, names)))

    def make_template(self) -> None:
        self._run("DROP DATABASE IF EXISTS {} WITH (FORCE)", self._template)
        self._run("CREATE DATABASE {}", self._template)
        _use(self._template)
        _migrate()
        with connection.cursor() as cursor:
            cursor.execute("CREATE SCHEMA migrated")
            for table in self._with_rows():
                cursor.execute(f'CREATE TABLE migrated."{table}" AS TABLE public."{table}"')
        _use("postgres")  # nobody may be connected to what is copied

    def make_copy(self) -> None:
        self._run("DROP DATABASE IF EXISTS {} WITH (FORCE)", self._copy)
        self._run("CREATE DATABASE {} TEMPLATE {}", self._copy, self._template)
        _use(self._copy)
        self._migrated = self._with_rows()

    def restore(self) -> None:
        """Foreign keys are checked at the commit, so the order of the tables is free."""
        emptied = {*self._with_rows(), *self._migrated}
        script = [f'DELETE FROM "{table}"' for table in emptied]  # noqa: S608 - our own names
        script += [
            f'INSERT INTO "{table}" SELECT * FROM migrated."{table}"'  # noqa: S608
            for table in self._migrated
        ]
        with transaction.atomic(), connection.cursor() as cursor:
            cursor.execute(";".join(script))

    def make_own(self, name: str, *, empty: bool) -> None:
        """A database of one test."""
        self._copy = name
        self._run("DROP DATABASE IF EXISTS {} WITH (FORCE)", name)
        if empty:
            self._run("CREATE DATABASE {}", name)
        else:
            self._run("CREATE DATABASE {} TEMPLATE {}", name, self._template)
        _use(name)
        if not empty:
            with connection.cursor() as cursor:
                cursor.execute("DROP SCHEMA migrated CASCADE")

    def drop(self) -> None:
        _use("postgres")
        self._run("DROP DATABASE IF EXISTS {} WITH (FORCE)", self._copy)

    def _with_rows(self) -> list[str]:
        with connection.cursor() as cursor:
            if not self._tables:
                self._tables = connection.introspection.django_table_names(
                    only_existing=True, include_views=False
                )
            questions = [
                f"SELECT '{table}' WHERE EXISTS (SELECT FROM \"{table}\")"  # noqa: S608
                for table in self._tables
            ]
            cursor.execute(" UNION ALL ".join(questions))
            return [row[0] for row in cursor.fetchall()]


@contextlib.contextmanager
def own_database(folder: Path, name: str, *, empty: bool = False) -> Iterator[None]:
    """Until the end Django's connection leads to a database that is the test's alone.

    A copy of the migrated template, or without any table. For tests with ``transactional_db``:
    nobody else is connected to it, so it can be dropped or replaced whole.
    """
    worker_s = connection.settings_dict["NAME"]
    if connection.vendor == "sqlite":
        path = folder / f"{name}.sqlite3"
        if not empty:
            connection.ensure_connection()
            with contextlib.closing(sqlite3.connect(path)) as copy:
                connection.connection.backup(copy)
        _use(str(path))
        try:
            yield
        finally:
            _use(worker_s)
        return
    # Also inside another's: the worker's own name stands behind what was asked for.
    copies = PostgresCopies(worker_s.partition(f"_{WORKER}")[0].removeprefix("test_"))
    try:
        copies.make_own(f"{worker_s}_{name}", empty=empty)
        yield
    finally:
        copies.drop()
        _use(worker_s)


@pytest.fixture(scope="session")
def django_db_setup(
    django_test_environment: None, django_db_blocker: Any, tmp_path_factory: pytest.TempPathFactory
) -> Iterator[None]:
    """A worker's own copy of the migrated template; made by whoever comes first."""
    folder = tmp_path_factory.getbasetemp()
    if WORKER != "alone":
        folder = folder.parent  # the workers of one run share it
    asked = connection.settings_dict["NAME"]
    on_postgres = connection.vendor == "postgresql"
    copies: Copies = PostgresCopies(asked) if on_postgres else SqliteCopies(folder)
    done = folder / "migrated.done"
    with django_db_blocker.unblock(), (folder / "migrated.lock").open("w") as lock:
        fcntl.flock(lock, fcntl.LOCK_EX)
        if not done.exists():
            copies.make_template()
            done.touch()
        copies.make_copy()
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(TransactionTestCase, "_fixture_teardown", lambda _case: copies.restore())
        yield
    with django_db_blocker.unblock():
        connection.close()
        copies.drop()
        _use(asked)
