"""Rows that many tests begin with: built once a worker by their factories, then put in as rows.

The shop that most tests stand in takes a hundred queries and as many validations; its rows are
the same each time. Whatever stands in their way (a test that made some of them itself) has them
built as ever.
"""

from collections.abc import Callable, Sequence
from dataclasses import dataclass, field
from datetime import date
from typing import Any

from django.apps import apps
from django.db import IntegrityError, connection, transaction
from django.db.models import AutoField, Model
from django.utils import timezone


@dataclass
class RememberedRows:
    """The rows that ``build`` adds, by table in the order of their first insertion.

    They are remembered from a test in which nothing of ``models`` was there before.
    """

    build: Callable[[], object]
    models: Sequence[type[Model]]
    _inserts: list[tuple[str, list[Any]]] = field(default_factory=list)
    _built_on: date | None = None

    def put_in(self) -> None:
        """As if ``build`` were called; days are counted from the day of the call."""
        if self._built_on != timezone.localdate():
            self._build_and_remember()
            return
        try:
            with transaction.atomic(), connection.cursor() as cursor:
                for insert, rows in self._inserts:
                    cursor.executemany(insert, rows)
        except IntegrityError:
            self.build()

    def _build_and_remember(self) -> None:
        if any(model._default_manager.exists() for model in self.models):
            self.build()
            return
        before = _newest_keys()
        self.build()
        after = _newest_keys()
        self._inserts = [
            _rows_since(table, before[table]) for table in after if after[table] > before[table]
        ]
        self._built_on = timezone.localdate()


def _key_columns() -> dict[str, str]:
    """Each table's key, of those that count their rows."""
    models = apps.get_models(include_auto_created=True)
    keys = {model._meta.db_table: model._meta.pk for model in models if model._meta.managed}
    return {table: key.column for table, key in keys.items() if isinstance(key, AutoField)}


def _newest_keys() -> dict[str, int]:
    questions = [
        f'SELECT \'{table}\', MAX("{key}") FROM "{table}"'  # noqa: S608 - our own names
        for table, key in _key_columns().items()
    ]
    with connection.cursor() as cursor:
        found = {}
        for question in questions:
            cursor.execute(question)
            table, newest = cursor.fetchone()
            found[table] = int(newest or 0)
        return found


def _rows_since(table: str, newest: int) -> tuple[str, list[Any]]:
    with connection.cursor() as cursor:
        key = _key_columns()[table]
        cursor.execute(f'SELECT * FROM "{table}" WHERE "{key}" > %s', [newest])  # noqa: S608
        columns = [column[0] for column in cursor.description]
        rows = cursor.fetchall()
    names = ", ".join(f'"{column}"' for column in columns)
    marks = ", ".join(["%s"] * len(columns))
    return f'INSERT INTO "{table}" ({names}) VALUES ({marks})', rows  # noqa: S608
