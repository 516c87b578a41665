"""The database as one file and back, on PostgreSQL and SQLite.

PostgreSQL: ``pg_dump`` in its own format, read back by one ``psql`` transaction that first drops
every table, so that a plant is wholly the old one or wholly the restored one. SQLite: its online
backup, which lets others write meanwhile and is itself one transaction.
"""

from __future__ import annotations

import contextlib
import os
import shutil
import sqlite3
import subprocess
import time
from collections.abc import Callable, Mapping
from pathlib import Path
from typing import Final

from django.db import connection
from django.db.migrations.recorder import MigrationRecorder
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy
from psycopg import pq, sql

from blendshop.errors import BadInput, IllegalMove

#: Tables a migration itself fills, and what comes and goes by itself.
_NOT_A_PLANTS: Final = frozenset(
    {
        "auth_group",
        "auth_group_permissions",
        "auth_permission",
        "django_content_type",
        "django_migrations",
        "django_session",
        "formulas_catalogueversion",
    }
)
#: Beginnings of tables in which a worker and the limits keep books of their own.
_BOOKKEEPING: Final = ("blendshop_cache", "django_tasks_", "jobs_")
_DEBIAN_BINARIES: Final = Path("/usr/lib/postgresql")
_PATIENCE_S: Final = 15
_IN_USE: Final = gettext_lazy("The database is in use: stop web and worker, then restore again.")


def applied_migrations() -> tuple[str, ...]:
    """As ``app.name``, sorted; empty in a database without tables."""
    return tuple(
        sorted(".".join(key) for key in MigrationRecorder(connection).applied_migrations())
    )


def filled_table() -> str | None:
    """A table in which somebody's work stands, if there is one."""
    with connection.cursor() as cursor:
        for table in sorted(connection.introspection.table_names(cursor)):
            if table in _NOT_A_PLANTS or table.startswith(_BOOKKEEPING):
                continue
            cursor.execute(f"SELECT 1 FROM {connection.ops.quote_name(table)} LIMIT 1")  # noqa: S608
            if cursor.fetchone():
                return table
    return None


def dump_database(path: Path) -> None:
    """The whole database as one consistent file; raises IllegalMove saying why it cannot be."""
    if connection.vendor == "postgresql":
        _run("pg_dump", "--format=custom", "--no-owner", "--no-privileges", f"--file={path}")
    else:
        connection.ensure_connection()
        with contextlib.closing(sqlite3.connect(path)) as target:
            connection.connection.backup(target)


def check_dump(path: Path) -> None:
    """Raises BadInput when the database cannot read this file."""
    if connection.vendor == "postgresql":
        try:
            _run("pg_restore", "--list", str(path))
        except IllegalMove as error:
            raise BadInput(
                _("The backup's database cannot be read. %(why)s") % {"why": error.message}
            ) from error
        return
    with contextlib.closing(sqlite3.connect(path)) as source:
        try:
            (word,) = source.execute("PRAGMA integrity_check").fetchone()
        except sqlite3.DatabaseError as error:
            raise BadInput(
                _("The backup's database cannot be read. %(why)s") % {"why": error}
            ) from error
        if word != "ok":
            raise BadInput(_("The backup's database is damaged: %(why)s") % {"why": word})


def load_database(path: Path, script: Path) -> None:
    """Put the file in place of what is there, all of it or nothing; ``script`` is scratch space.

    Raises IllegalMove when others hold the database or the tool refuses.
    """
    if connection.vendor == "postgresql":
        _load_postgres(path, script)
        return
    connection.ensure_connection()
    with contextlib.closing(sqlite3.connect(path)) as source:
        try:
            source.backup(connection.connection, progress=_patience())
        except sqlite3.OperationalError as error:
            raise IllegalMove(str(_IN_USE)) from error
    connection.close()


def _patience() -> Callable[[int, int, int], None]:
    """For ``Connection.backup``, which else waits for ever while another connection writes."""
    until = time.monotonic() + _PATIENCE_S

    def look(status: int, remaining: int, total: int) -> None:
        if status in {sqlite3.SQLITE_BUSY, sqlite3.SQLITE_LOCKED} and time.monotonic() > until:
            raise IllegalMove(str(_IN_USE))

    return look


def _load_postgres(path: Path, script: Path) -> None:
    restoring = script.with_name(f"{script.name}.restore")
    _run("pg_restore", "--no-owner", "--no-privileges", f"--file={restoring}", str(path))
    with connection.cursor() as cursor:
        there = [("TABLE", info.name) for info in connection.introspection.get_table_list(cursor)]
        # Functions of triggers; those of extensions are none of ours.
        cursor.execute(
            "SELECT proname FROM pg_proc WHERE pronamespace = current_schema()::regnamespace"
            " AND NOT EXISTS (SELECT FROM pg_depend WHERE objid = pg_proc.oid AND deptype = 'e')"
        )
        there += [("FUNCTION", name) for (name,) in cursor.fetchall()]
    with script.open("w") as whole, restoring.open() as rest:
        whole.write(f"SET LOCAL lock_timeout = '{_PATIENCE_S}s';\n")
        for kind, name in there:
            dropping = sql.SQL("DROP {} {} CASCADE;\n").format(sql.SQL(kind), sql.Identifier(name))
            whole.write(dropping.as_string())
        shutil.copyfileobj(rest, whole)
    connection.close()
    connection.close_pool()  # type: ignore[attr-defined] # PostgreSQL's connection has it
    _run(
        *("psql", "--no-psqlrc", "--quiet", "--single-transaction", "--set=ON_ERROR_STOP=1"),
        f"--file={script}",
        "--output=/dev/null",
    )


def _run(tool: str, *arguments: str) -> None:
    """A PostgreSQL program on our database; what it wrote on its way out is in the error."""
    done = subprocess.run(  # noqa: S603 - a program of PostgreSQL, arguments of ours
        [_program(tool), *arguments],
        env={**os.environ, **_libpq_environment()},
        stdin=subprocess.DEVNULL,
        capture_output=True,
        text=True,
        check=False,
    )
    if done.returncode:
        said = done.stderr.strip()
        if "lock timeout" in said:
            raise IllegalMove(str(_IN_USE))
        raise IllegalMove(_("%(tool)s stopped: %(why)s") % {"tool": tool, "why": said})


def _libpq_environment() -> Mapping[str, str]:
    """Where the database is, for PostgreSQL's programs; a password never on a command line."""
    known = connection.get_connection_params()
    names = {
        option.keyword.decode(): option.envvar.decode()
        for option in pq.Conninfo.get_defaults()
        if option.envvar
    }
    return {names[key]: str(value) for key, value in known.items() if key in names}


def _program(tool: str) -> str:
    """Debian's of the server's own version, else the one on the path."""
    version = connection.pg_version // 10_000  # type: ignore[attr-defined] # PostgreSQL's connection has it
    of_server = _DEBIAN_BINARIES / str(version) / "bin" / tool
    found = str(of_server) if of_server.is_file() else shutil.which(tool)
    if found is None:
        raise IllegalMove(
            _("%(tool)s is not installed: install postgresql-client-%(version)s.")
            % {"tool": tool, "version": version}
        )
    return found
