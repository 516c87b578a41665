"""Frozen dataclasses to plain JSON values and back, guided by their type hints.

The snapshot of an issued paper is stored as JSON. Decimals become strings (a price keeps every
digit it was quoted with), dates become ISO strings, tuples become lists.
"""

from __future__ import annotations

import dataclasses
import datetime as dt
import math
import types
import typing
from collections.abc import Mapping
from decimal import Decimal
from enum import StrEnum
from typing import Any, Self, TypeVar

T = TypeVar("T")


class SnapshotError(ValueError):
    """A stored snapshot does not fit the view model it is read into; the field is named."""


class Snapshot:
    """Mixin that gives a frozen dataclass ``to_json`` and ``from_json``."""

    __slots__ = ()

    def to_json(self) -> dict[str, Any]:
        """Plain dicts, lists, strings, numbers, booleans and None, in field order."""
        return {
            field.name: _encode(getattr(self, field.name), field.name)
            for field in dataclasses.fields(self)  # type: ignore[arg-type]
        }

    @classmethod
    def from_json(cls, data: Mapping[str, Any]) -> Self:
        """The view model that ``to_json`` wrote; raises SnapshotError naming the field."""
        return _decode_dataclass(cls, data, cls.__name__)


def _encode(value: Any, path: str) -> Any:
    if isinstance(value, Snapshot):
        return value.to_json()
    if isinstance(value, tuple):
        return [_encode(item, f"{path}[{index}]") for index, item in enumerate(value)]
    if isinstance(value, Decimal):
        if not value.is_finite():
            raise SnapshotError(f"{path}: {value} is not a finite number.")
        return str(value)
    if isinstance(value, dt.date):  # a datetime is a date
        return value.isoformat()
    if isinstance(value, StrEnum):
        return value.value
    if isinstance(value, float) and not math.isfinite(value):
        raise SnapshotError(f"{path}: {value} is not a finite number.")
    if value is None or isinstance(value, bool | int | float | str):
        return value
    raise SnapshotError(f"{path}: a {type(value).__name__} cannot be stored in a snapshot.")


def _decode_dataclass(cls: type[T], data: Any, path: str) -> T:
    if not isinstance(data, Mapping):
        raise SnapshotError(f"{path}: expected an object, got {type(data).__name__}.")
    hints = typing.get_type_hints(cls)
    fields = dataclasses.fields(cls)  # type: ignore[arg-type]
    unknown = set(data) - {field.name for field in fields}
    if unknown:
        raise SnapshotError(f"{path}: unknown field {min(unknown)!r}.")
    values = {
        field.name: _decode(hints[field.name], data[field.name], f"{path}.{field.name}")
        for field in fields
        if field.name in data  # a field added later takes its default
    }
    try:
        return cls(**values)
    except TypeError as error:
        raise SnapshotError(f"{path}: {error}.") from error


def _decode(hint: Any, value: Any, path: str) -> Any:
    origin = typing.get_origin(hint)
    if origin in (types.UnionType, typing.Union):
        if value is None:
            return None
        (hint,) = (part for part in typing.get_args(hint) if part is not type(None))
        return _decode(hint, value, path)
    if origin is tuple:
        if not isinstance(value, list | tuple):
            raise SnapshotError(f"{path}: expected a list, got {type(value).__name__}.")
        item = typing.get_args(hint)[0]
        return tuple(_decode(item, part, f"{path}[{i}]") for i, part in enumerate(value))
    if dataclasses.is_dataclass(hint):
        return _decode_dataclass(typing.cast("type[Any]", hint), value, path)
    return _decode_plain(hint, value, path)


def _decode_plain(hint: Any, value: Any, path: str) -> Any:
    wanted: tuple[type, ...] = {float: (int, float), int: (int,), bool: (bool,)}.get(hint, (str,))
    if not isinstance(value, wanted) or (isinstance(value, bool) and hint is not bool):
        raise SnapshotError(f"{path}: expected {hint.__name__}, got {value!r}.")
    if hint in (str, bool):
        return value
    if hint in (dt.date, dt.datetime):
        return hint.fromisoformat(value)
    try:
        return hint(value)  # float, int, Decimal or a StrEnum
    except (ValueError, ArithmeticError) as error:
        raise SnapshotError(f"{path}: {value!r} is not a {hint.__name__}.") from error
