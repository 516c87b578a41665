"""Frozen records are read through their types: nobody takes their JSON apart by key."""

import ast
from collections.abc import Iterator
from pathlib import Path

from django.apps import apps
from django.db.models import JSONField

ROOT = Path(__file__).resolve().parents[2]
#: Where the JSON of a record is made or brought up to today's shape.
CODECS = ("blendshop/snapshot.py", "formulas/answers/", "orders/frozen/", "orders/models/")
#: What a record, or the answer it is made of, is called where one is at hand.
RECORDS = {
    "answer", "breakdown", "consignment", "draft", "label", "load", "plan", "sheet", "snapshot",
    "step", "weighing",
}  # fmt: skip


def _columns() -> frozenset[str]:
    """Names of the JSON columns; the one of events is called like a form's ``data``."""
    return frozenset(
        field.name
        for app in ("formulas", "orders")
        for model in apps.get_app_config(app).get_models()
        for field in model._meta.get_fields()
        if isinstance(field, JSONField)
    )


def _key_reads(tree: ast.AST) -> Iterator[tuple[ast.expr, ast.expr]]:
    """What is read by a key written out, with the reading: ``x["key"]`` or ``x.get("key")``."""
    for node in ast.walk(tree):
        if isinstance(node, ast.Subscript):
            owner, key = node.value, node.slice
        elif (
            isinstance(node, ast.Call)
            and isinstance(node.func, ast.Attribute)
            and node.func.attr == "get"
            and node.args
        ):
            owner, key = node.func.value, node.args[0]
        else:
            continue
        is_text = isinstance(key, ast.Constant) and isinstance(key.value, str)
        if is_text or isinstance(key, ast.JoinedStr):
            yield owner, node


def _reads_a_record(owner: ast.expr, columns: frozenset[str]) -> bool:
    if isinstance(owner, ast.Name):
        return owner.id in RECORDS
    if not isinstance(owner, ast.Attribute):
        return False
    if owner.attr == "data":
        return "event" in ast.unparse(owner.value)
    return owner.attr in RECORDS or owner.attr in columns


def _taken_apart(source: str, columns: frozenset[str]) -> list[str]:
    return [
        ast.unparse(node)
        for owner, node in _key_reads(ast.parse(source))
        if _reads_a_record(owner, columns)
    ]


def test_no_frozen_record_is_taken_apart_by_key_outside_its_codec() -> None:
    columns = _columns()
    found = [
        f"{path.relative_to(ROOT)}: {hit}"
        for app in ("blendshop", "formulas", "orders")
        for path in sorted((ROOT / app).rglob("*.py"))
        if "migrations" not in path.parts
        and not path.relative_to(ROOT).as_posix().startswith(CODECS)
        for hit in _taken_apart(path.read_text(), columns)
    ]
    assert found == [], "read the typed record: batch.load_plan, revision's answer, ..."


def test_the_check_sees_names_columns_and_events_and_leaves_forms_alone() -> None:
    source = (
        "a = plan['steps']\nb = batch.plan['steps']\nc = line.price.get('total')\n"
        "d = self.event.data['total']\ne = form.data['total']\nf = rows['steps']\n"
        "g = step[f'{unit}_lb']\nh = answer[0]\n"
    )
    assert _taken_apart(source, _columns()) == [
        "plan['steps']",
        "batch.plan['steps']",
        "line.price.get('total')",
        "self.event.data['total']",
        "step[f'{unit}_lb']",
    ]


def test_every_kind_of_column_is_watched() -> None:
    assert {"plan", "price", "answer", "snapshot", "contents", "step", "data"} <= _columns()
