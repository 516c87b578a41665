"""A plant's database as an earlier version left it.

``demo_plant.json`` is what that version's own ``load_demo`` wrote (an invented plant), its batch
charged, made and released by that version's actions, as ``dumpdata`` says it; of histories and of
stocks no recipe names only a few rows are kept.
"""

import json
from pathlib import Path
from typing import Any, Final

from django.apps import apps
from django.core.management.color import no_style
from django.db import connection, models, transaction
from django.db.migrations.loader import MigrationLoader
from django.db.migrations.recorder import MigrationRecorder
from django.db.migrations.state import StateApps

#: The last migrations of our own apps that this version had, and no other app of ours.
OURS: Final = {
    "accounts": "0001_initial",
    "formulas": "0003_stock_solutes",
    "orders": "0007_recall",
}
OTHERS: Final = ("account", "admin", "auth", "authtoken", "contenttypes", "sessions")
PLANT: Final = Path(__file__).parent / "demo_plant.json"

#: Constraints and indexes that are named in the models; Django finds names for the others.
_OURS_BY_NAME: Final = {
    each.name
    for model in apps.get_models()
    for each in (*model._meta.indexes, *model._meta.constraints)
}

#: Of each table: key to columns and their values.
Rows = dict[str, dict[Any, dict[str, Any]]]


def lay_out() -> StateApps:
    """Make the tables of that version in an empty database and write down its migrations.

    The tables are made from the state the migrations lead to, in one go, not one by one.
    """
    loader = MigrationLoader(connection, replace_migrations=False)
    targets = [*OURS.items(), *(leaf for app in OTHERS for leaf in loader.graph.leaf_nodes(app))]
    plan = {node for target in targets for node in loader.graph.forwards_plan(target)}
    then = loader.project_state(targets).apps
    with connection.schema_editor() as editor:
        for model in then.get_models():
            if model._meta.managed and not model._meta.proxy:
                editor.create_model(model)
    recorder = MigrationRecorder(connection)
    recorder.ensure_schema()
    for app, name in sorted(plan):
        recorder.record_applied(app, name)
    return then


def fill(then: StateApps) -> int:
    """Put the rows in as that version's models have them; how many there are."""
    said = json.loads(PLANT.read_text())
    with transaction.atomic():
        for row in said:
            _put_in(then.get_model(row["model"]), row)
    tables = [model for model in then.get_models() if model._meta.managed]
    with connection.cursor() as cursor:
        for command in connection.ops.sequence_reset_sql(no_style(), tables):
            cursor.execute(command)
    return len(said)


def _put_in(model: type[models.Model], row: dict[str, Any]) -> None:
    values, sets = {model._meta.pk.attname: model._meta.pk.to_python(row["pk"])}, {}
    for name, value in row["fields"].items():
        field = model._meta.get_field(name)
        if field.many_to_many:
            sets[name] = value
        elif isinstance(field, models.ForeignKey):
            values[field.attname] = value
        else:
            values[field.attname] = field.to_python(value)
    record = model(**values)
    record.save_base(raw=True, force_insert=True)
    for name, keys in sets.items():
        getattr(record, name).set(keys)


def rows_of(tables: list[str]) -> Rows:
    """What stands in these tables, by key."""
    found: Rows = {}
    with connection.cursor() as cursor:
        for table in tables:
            cursor.execute(f'SELECT * FROM "{table}"')  # noqa: S608 - a table's own name
            columns = [column[0] for column in cursor.description]
            rows = [dict(zip(columns, row, strict=True)) for row in cursor.fetchall()]
            key = _key(cursor, table)
            found[table] = {row[key]: row for row in rows}
    return found


def schema() -> dict[str, tuple[dict[str, Any], list[tuple[Any, ...]]]]:
    """Of each table: its columns with type and whether they may be empty; its constraints."""
    look = connection.introspection
    found = {}
    with connection.cursor() as cursor:
        for table in look.table_names(cursor):
            columns = {
                column.name: (look.get_field_type(column.type_code, column), column.null_ok)
                for column in look.get_table_description(cursor, table)
            }
            constraints = sorted(
                (
                    sorted(map(str, each["columns"] or [])),
                    *(each[kind] for kind in ("primary_key", "unique", "check", "index")),
                    str(each["foreign_key"]),
                    name if name in _OURS_BY_NAME else "",
                )
                for name, each in look.get_constraints(cursor, table).items()
            )
            found[table] = columns, constraints
    return found


def _key(cursor: Any, table: str) -> str:
    (column,) = connection.introspection.get_primary_key_columns(cursor, table)
    return column
