"""Triggers that give the catalogue another version, whoever writes and by whatever road.

Actions, the back office, an upload, a bulk statement and a person at the database's own prompt all
pass them. They are made after ``migrate`` and not by a migration: on SQLite a later migration
makes a changed table anew and leaves its triggers behind.
"""

from typing import Final

from django.db import connections
from django.db.backends.base.base import BaseDatabaseWrapper

from formulas.models import (
    AnalysisFigure,
    BaseStock,
    CatalogueVersion,
    CompatibilityRule,
    StockCost,
    Trait,
)

#: What a catalogue is read from; a test holds it against the queries of the reading.
TABLES: Final = tuple(
    model._meta.db_table
    for model in (
        BaseStock,
        BaseStock.traits.through,
        AnalysisFigure,
        StockCost,
        Trait,
        CompatibilityRule,
    )
)
_VERSION: Final = CatalogueVersion._meta.db_table
_NAME: Final = "catalogue_changed"


def make_triggers(*, using: str, **_signal: object) -> None:
    """Make those that are missing; the catalogue then counts as changed, since nobody watched."""
    connection = connections[using]
    if _VERSION not in connection.introspection.table_names():
        return  # migrated back to before there was one
    make = _make_on_postgres if connection.vendor == "postgresql" else _make_on_sqlite
    if make(connection):
        with connection.cursor() as cursor:
            cursor.execute(f"UPDATE {_VERSION} SET token = {_drawn(connection)}")  # noqa: S608 - our own names


def _drawn(connection: BaseDatabaseWrapper) -> str:
    """SQL of a token nobody had before."""
    if connection.vendor == "postgresql":
        return "gen_random_uuid()::text"
    return "lower(hex(randomblob(16)))"


def _another(connection: BaseDatabaseWrapper) -> str:
    return (
        f"INSERT INTO {_VERSION} (id, token) VALUES (1, {_drawn(connection)})"  # noqa: S608 - our own names
        " ON CONFLICT (id) DO UPDATE SET token = excluded.token;"
    )


def _make_on_postgres(connection: BaseDatabaseWrapper) -> bool:
    with connection.cursor() as cursor:
        cursor.execute(
            "SELECT relname FROM pg_trigger JOIN pg_class ON pg_class.oid = tgrelid"
            " WHERE tgname = %s AND pg_table_is_visible(tgrelid)",
            [_NAME],
        )
        known = {row[0] for row in cursor.fetchall()}
        missing = [table for table in TABLES if table not in known]
        if not missing:
            return False
        cursor.execute(
            f"CREATE OR REPLACE FUNCTION {_NAME}() RETURNS trigger LANGUAGE plpgsql AS"
            f" $$ BEGIN {_another(connection)} RETURN NULL; END $$"
        )
        for table in missing:
            cursor.execute(
                f"CREATE TRIGGER {_NAME} AFTER INSERT OR UPDATE OR DELETE OR TRUNCATE ON {table}"
                f" FOR EACH STATEMENT EXECUTE FUNCTION {_NAME}()"
            )
    return True


def _make_on_sqlite(connection: BaseDatabaseWrapper) -> bool:
    with connection.cursor() as cursor:
        cursor.execute("SELECT name FROM sqlite_master WHERE type = 'trigger'")
        known = {row[0] for row in cursor.fetchall()}
        missing = [
            (table, event, f"{table}_{_NAME}_{event}".lower())
            for table in TABLES
            for event in ("INSERT", "UPDATE", "DELETE")
            if f"{table}_{_NAME}_{event}".lower() not in known
        ]
        for table, event, name in missing:
            cursor.execute(
                f"CREATE TRIGGER {name} AFTER {event} ON {table} BEGIN {_another(connection)} END"
            )
    return bool(missing)
