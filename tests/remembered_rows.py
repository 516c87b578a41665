"""What many tests begin with: built once a worker as ever, then put in as the rows it was.

A shop, an order, a planned batch take hundreds of queries and validations, and are the same each
time. The first test that asks builds them; a later one that stands on the very same rows gets
what the building added and changed. A test that stands elsewhere has them built as ever.
"""

from collections.abc import Callable, Iterator, Sequence, Set
from dataclasses import dataclass, field
from datetime import date
from functools import cache
from typing import Any, Final

from django.apps import apps
from django.db import connection, transaction
from django.db.models import DateTimeField, ForeignKey, Model
from django.utils import timezone

from tests.statements import sent_before, sent_meanwhile

#: Rows of a table by key, each with ``_Given`` for what a build is called with.
_Rows = dict[Any, tuple[Any, ...]]
_State = dict[str, _Rows]
#: A plan, a price, a label depend on nothing else; people and companies are arguments.
_APPS: Final = frozenset({"formulas", "orders", "outbox"})
#: Written by triggers of other tables, differently each time.
_BY_TRIGGERS: Final = frozenset({"formulas_catalogueversion"})
#: Ways a build was begun on that are kept.
_MOST_KEPT: Final = 4


@dataclass(frozen=True)
class _Given:
    """Stands for the key of an argument, which has another one in the next test."""

    position: int


@dataclass(frozen=True)
class _Building:
    """What one call added and changed, and the records it returned."""

    on: date
    given: Sequence[Any]
    before: _State
    after: _State
    returned: Any
    sent: Set[str]


@dataclass
class RememberedRows:
    """``build(*given)`` with records to records (one, or a mapping of them, or None).

    ``apps`` are those whose rows it reads and writes.
    """

    build: Callable[..., Any]
    apps: Set[str] = _APPS
    _kept: list[_Building] = field(default_factory=list)

    def __call__(self, *given: Model) -> Any:
        before, today = _state(given, self.apps), timezone.localdate()
        said = [_said_of(each) for each in given]
        for known in self._kept:
            if known.on == today and known.given == said and known.before == before:
                _put_in(known, given)
                sent_before(known.sent)
                return _again(known.returned)
        with sent_meanwhile() as sent:
            returned = self.build(*given)
        if len(self._kept) < _MOST_KEPT:
            after = _state(given, self.apps)
            self._kept.append(_Building(today, said, before, after, _keys_of(returned), sent))
        return returned


def _said_of(record: Model) -> dict[str, Any]:
    """What a build may write down of an argument: all but keys and moments."""
    return {
        each.attname: getattr(record, each.attname)
        for each in record._meta.concrete_fields
        if not isinstance(each, ForeignKey | DateTimeField)
        and not each.primary_key
        and each.name != "password"
    }


def _keys_of(returned: Any) -> Any:
    if isinstance(returned, Model):
        return type(returned), returned.pk
    if isinstance(returned, dict):
        return {name: _keys_of(each) for name, each in returned.items()}
    return None


def _again(keys: Any) -> Any:
    if isinstance(keys, tuple):
        model, pk = keys
        return model._default_manager.get(pk=pk)
    if isinstance(keys, dict):
        return {name: _again(each) for name, each in keys.items()}
    return None


@dataclass(frozen=True)
class _Table:
    app: str
    name: str
    columns: tuple[str, ...]
    key: int
    #: Position of a column and the table it points to.
    pointers: tuple[tuple[int, str], ...]

    def select(self) -> str:
        return f'SELECT {self._names} FROM "{self.name}"'  # noqa: S608 - our own names

    def insert(self) -> str:
        marks = ", ".join(["%s"] * len(self.columns))
        return f'INSERT INTO "{self.name}" ({self._names}) VALUES ({marks})'  # noqa: S608

    def update(self) -> str:
        values = ", ".join(f'"{column}" = %s' for column in self.columns)
        return f'UPDATE "{self.name}" SET {values} WHERE "{self.columns[self.key]}" = %s'  # noqa: S608

    def delete(self) -> str:
        return f'DELETE FROM "{self.name}" WHERE "{self.columns[self.key]}" = %s'  # noqa: S608

    @property
    def _names(self) -> str:
        return ", ".join(f'"{column}"' for column in self.columns)


@cache
def _tables() -> dict[str, _Table]:
    return {table.name: table for table in _read_tables()}


def _read_tables() -> Iterator[_Table]:
    for model in apps.get_models(include_auto_created=True):
        meta = model._meta
        if meta.proxy or not meta.managed or meta.db_table in _BY_TRIGGERS:
            continue
        fields = meta.local_concrete_fields
        columns = tuple(each.column for each in fields)
        pointers = tuple(
            (position, each.related_model._meta.db_table)
            for position, each in enumerate(fields)
            if isinstance(each, ForeignKey)
        )
        key = columns.index(meta.pk.column)
        yield _Table(meta.app_label, meta.db_table, columns, key, pointers)


def _state(given: Sequence[Model], labels: Set[str]) -> _State:
    """Every row there is, by table; ``given`` by its position."""
    positions = {(each._meta.db_table, each.pk): _Given(at) for at, each in enumerate(given)}
    found: _State = {}
    with connection.cursor() as cursor:
        for table in _with_rows(cursor, labels):
            cursor.execute(table.select())
            rows: _Rows = {}
            for values in cursor.fetchall():
                row = list(values)
                for position, target in table.pointers:
                    row[position] = positions.get((target, row[position]), row[position])
                key = positions.get((table.name, row[table.key]), row[table.key])
                row[table.key] = key
                rows[key] = tuple(row)
            found[table.name] = rows
    return found


def _with_rows(cursor: Any, labels: Set[str]) -> list[_Table]:
    questions = [
        f"SELECT '{name}' WHERE EXISTS (SELECT 1 FROM \"{name}\")"  # noqa: S608
        for name, table in _tables().items()
        if table.app in labels
    ]
    cursor.execute(" UNION ALL ".join(questions))
    return [_tables()[row[0]] for row in cursor.fetchall()]


def _put_in(known: _Building, given: Sequence[Model]) -> None:
    """Foreign keys are checked at the end of a transaction, so the order of tables is free."""

    def own(values: Sequence[Any]) -> list[Any]:
        return [given[each.position].pk if isinstance(each, _Given) else each for each in values]

    with transaction.atomic(), connection.cursor() as cursor:
        for name in known.before.keys() | known.after.keys():
            table = _tables()[name]
            before, after = known.before.get(name, {}), known.after.get(name, {})
            for key in before.keys() - after.keys():
                cursor.execute(table.delete(), own([key]))
            for key, row in after.items():
                if key in before and before[key] != row:
                    cursor.execute(table.update(), own([*row, key]))
            if added := [own(row) for key, row in after.items() if key not in before]:
                cursor.executemany(table.insert(), added)
