"""Reading the investigational allowances: the uniform rule and the states of their own."""

from __future__ import annotations

from collections.abc import Mapping
from functools import cache
from pathlib import Path
from types import MappingProxyType
from typing import Any, Final

from formulas.engine.composition import WISH_KEYS
from formulas.engine.label.allowances import Allowance, AllowanceRule, Grid, Offset, UnitsAndShare
from formulas.engine.label.rules import PRIMARY
from formulas.engine.mark import Mark
from formulas.reference.citation import cited
from formulas.reference.facts import Source
from formulas.reference.reading import ReferenceDataError, Row, load, rows

UNIFORM: Final = "uniform"
_FILE: Final = "allowances.toml"
_HERE: Final = Path(__file__).parent


@cache
def allowance_rules(directory: Path = _HERE) -> Mapping[str, AllowanceRule]:
    """Every rule by its code; ``uniform`` first."""
    path = directory / _FILE
    tables = load(path)
    allowances = {**_grid(_table(tables, "grid")), **_entries(path)}
    uniform = _uniform(_table(tables, "uniform"), allowances)
    found = {uniform.code: uniform}
    for row in rows(path, "state", "code"):
        state = _state(row, uniform)
        if state.code in found:
            raise row.error("code", f"stands twice: {state.code!r}")
        found[state.code] = state
    return MappingProxyType(found)


def _table(tables: Mapping[str, Any], name: str) -> Row:
    if not isinstance(tables.get(name), dict):
        raise ReferenceDataError(f"{_FILE}: holds no [{name}]")
    return Row(_FILE, name, dict(tables[name]))


def _allowance(curve: Grid | UnitsAndShare, source: Source) -> Allowance:
    return Allowance(curve, source.text, source.mark is Mark.VERIFIED, source.note)


def _grid(row: Row) -> dict[str, Allowance]:
    source = cited(row)
    up_to = {key: row.optional_number(f"{key}_up_to", 0.0, 100.0) or 100.0 for key in PRIMARY}
    lines = row.values.pop("rows", None)
    row.done()
    if not isinstance(lines, list) or len(lines) < 2:
        raise row.error("rows", "must hold at least two rows")
    numbers = [[_number(row, figure) for figure in line] for line in lines]
    if any(len(line) != 1 + len(PRIMARY) for line in numbers):
        raise row.error("rows", "must hold a guarantee and three allowances each")
    guarantees = [line[0] for line in numbers]
    if guarantees != sorted(set(guarantees)):
        raise row.error("rows", "must ascend by guarantee")
    return {
        key: _allowance(
            Grid(tuple((line[0], line[column]) for line in numbers), up_to[key]), source
        )
        for column, key in enumerate(PRIMARY, start=1)
    }


def _number(row: Row, figure: object) -> float:
    if not isinstance(figure, float) or not 0 < figure <= 100:
        raise row.error("rows", f"holds {figure!r}, not a percentage")
    return figure


def _entries(path: Path) -> dict[str, Allowance]:
    found: dict[str, Allowance] = {}
    for row in rows(path, "entry", "keys"):
        curve, source = _curve(row), cited(row)
        for key in row.texts("keys"):
            if key not in WISH_KEYS or key in PRIMARY:
                raise row.error("keys", f"has no allowance of this kind: {key!r}")
            if key in found:
                raise row.error("keys", f"stands twice: {key!r}")
            found[key] = _allowance(curve, source)
        row.done()
    return found


def _curve(row: Row) -> UnitsAndShare:
    return UnitsAndShare(
        row.number("units", 0.0, 10.0),
        row.number("share_pct", 0.0, 100.0),
        row.optional_number("most_units", 0.0, 10.0) or 100.0,
        row.optional_number("most_share_pct", 0.0, 100.0) or 100.0,
    )


def _uniform(row: Row, allowances: Mapping[str, Allowance]) -> AllowanceRule:
    row.mark("index_mark")
    rule = AllowanceRule(
        code=UNIFORM,
        name=row.text("name"),
        allowances=MappingProxyType(dict(allowances)),
        index_floor_pct=row.number("index_floor_pct", 50.0, 100.0),
        index_source=row.text("index_citation"),
        index_note=row.optional_text("index_note"),
    )
    row.done()
    return rule


def _state(row: Row, uniform: AllowanceRule) -> AllowanceRule:
    source = cited(row)
    primary = _allowance(_curve(row), source)
    offset = None
    if (share := row.optional_number("offset_share_pct", 0.0, 100.0)) is not None:
        offset = Offset(share, row.number("offset_most_units", 0.0, 10.0))
    weights = dict(uniform.index_weights)
    if (given := row.optional_table("index_weights")) is not None:
        weights = {key: given.number(key, 0.0, 100.0) for key in PRIMARY}
        given.done()
    rule = AllowanceRule(
        code=row.text("code"),
        name=row.text("name"),
        allowances=MappingProxyType({**uniform.allowances, **dict.fromkeys(PRIMARY, primary)}),
        index_floor_pct=row.number("index_floor_pct", 50.0, 100.0),
        index_source=source.text,
        index_note=source.note,
        offset=offset,
        index_weights=MappingProxyType(weights),
    )
    row.done()
    return rule
