"""Reading TOML rows strictly: every refusal names the file, the row and the key."""

from __future__ import annotations

import math
import tomllib
from collections.abc import Mapping
from dataclasses import dataclass
from decimal import Decimal, InvalidOperation
from enum import StrEnum
from pathlib import Path
from typing import Any, TypeVar

from formulas.engine.mark import Mark
from formulas.reference.facts import Source

Choice = TypeVar("Choice", bound=StrEnum)


class ReferenceDataError(ValueError):
    """A fact table is wrong; the message names file, row and key."""


def load(path: Path) -> dict[str, Any]:
    """The parsed file; a syntax error becomes a ``ReferenceDataError``."""
    try:
        with path.open("rb") as file:
            return tomllib.load(file)
    except tomllib.TOMLDecodeError as error:
        raise ReferenceDataError(f"{path.name}: {error}") from error


@dataclass(frozen=True, slots=True)
class Row:
    """One table of one file, read key by key; ``done`` refuses keys that nobody read."""

    file: str
    label: str
    values: dict[str, Any]

    def error(self, key: str, why: str) -> ReferenceDataError:
        return ReferenceDataError(f"{self.file}, {self.label}: {key} {why}")

    def _take(self, key: str, kind: type | tuple[type, ...], *, required: bool) -> Any:
        value = self.values.pop(key, None)
        if value is None:
            if required:
                raise self.error(key, "is missing")
            return None
        if not isinstance(value, kind) or isinstance(value, bool):
            raise self.error(key, f"has the wrong type: {value!r}")
        return value

    def text(self, key: str) -> str:
        value: str = self._take(key, str, required=True)
        if not value.strip():
            raise self.error(key, "is empty")
        return value

    def optional_text(self, key: str) -> str:
        return self._take(key, str, required=False) or ""

    def texts(self, key: str) -> tuple[str, ...]:
        values = self._take(key, list, required=True)
        if not all(isinstance(v, str) and v.strip() for v in values):
            raise self.error(key, "must hold non-empty text")
        if len(set(values)) != len(values):
            raise self.error(key, "names something twice")
        return tuple(values)

    def number(self, key: str, low: float, high: float) -> float:
        value = self.optional_number(key, low, high)
        if value is None:
            raise self.error(key, "is missing")
        return value

    def optional_number(self, key: str, low: float, high: float) -> float | None:
        value = self._take(key, (int, float), required=False)
        if value is None:
            return None
        if not math.isfinite(value):
            raise self.error(key, f"is not a finite number: {value}")
        if not low <= value <= high:
            raise self.error(key, f"is {value}, outside {low} to {high}")
        return float(value)

    def flag(self, key: str) -> bool:
        value = self.values.pop(key, None)
        if not isinstance(value, bool):
            raise self.error(key, f"is neither true nor false: {value!r}")
        return value

    def money(self, key: str) -> Decimal:
        """Dollars from a string, never through a float."""
        text = self.text(key)
        try:
            amount = Decimal(text)
        except InvalidOperation as error:
            raise self.error(key, f"is not an amount: {text!r}") from error
        if not amount.is_finite() or amount < 0:
            raise self.error(key, f"is not an amount: {text!r}")
        return amount

    def choice(self, key: str, kind: type[Choice]) -> Choice:
        text = self.text(key)
        try:
            return kind(text)
        except ValueError as error:
            raise self.error(key, f"is unknown: {text!r}") from error

    def mark(self, key: str) -> Mark:
        """A mark; a supplier's sheet is a plant's own paper and no ground for a shipped fact."""
        mark = self.choice(key, Mark)
        if mark is Mark.SUPPLIER:
            raise self.error(key, "is a supplier's sheet, which nobody else can read")
        return mark

    def table(self, key: str) -> Row:
        return Row(self.file, f"{self.label}.{key}", dict(self._take(key, dict, required=True)))

    def optional_table(self, key: str) -> Row | None:
        return self.table(key) if key in self.values else None

    def tables(self, key: str) -> tuple[Row, ...]:
        rows = self._take(key, list, required=False) or []
        return tuple(Row(self.file, f"{self.label}.{key}.{i}", dict(r)) for i, r in enumerate(rows))

    def source(self, publications: Mapping[str, str]) -> Source:
        """Mark and publications of a figure; keys are spelled out."""
        mark = self.mark("mark")
        keys = self.texts("source")
        if not keys:
            raise self.error("source", "is empty")
        for key in keys:
            if key not in publications:
                raise self.error("source", f"names an unknown publication: {key!r}")
        return Source(mark, "; ".join(publications[k] for k in keys), self.optional_text("note"))

    def done(self) -> None:
        if self.values:
            raise self.error(", ".join(sorted(self.values)), "is not a known key")


def rows(path: Path, table: str, label_key: str) -> tuple[Row, ...]:
    """The rows of an array of tables, labelled by ``label_key`` and position."""
    found = load(path).get(table)
    if not isinstance(found, list) or not found:
        raise ReferenceDataError(f"{path.name}: holds no [[{table}]]")
    return tuple(
        Row(path.name, f"{table} {i} ({values.get(label_key, '?')})", dict(values))
        for i, values in enumerate(found)
    )
