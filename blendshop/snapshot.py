"""Frozen dataclasses to plain JSON values and back, guided by their type hints.

Records that trust depends on (an issued paper, a batch's plan, a price) are stored as JSON.
Decimals become strings (a price keeps every digit it was quoted with), dates become ISO strings,
tuples become lists, sets become sorted lists, enumerations their values.

The outermost record also stores the ``version`` of its shape. When a shape changes, its class
raises ``VERSION`` and says in ``UPGRADES`` how JSON of each older version becomes the next one,
so rows written once are read for ever. JSON without a version is version 1.
"""

from __future__ import annotations

import dataclasses
import datetime as dt
import functools
import math
import types
import typing
from collections.abc import Callable, Hashable, Mapping
from decimal import Decimal
from enum import Enum
from functools import partial
from typing import (
    TYPE_CHECKING,
    Any,
    ClassVar,
    Final,
    Generic,
    NoReturn,
    Self,
    TypeVar,
    cast,
    overload,
)

if TYPE_CHECKING:
    from _typeshed import DataclassInstance

T = TypeVar("T")
S = TypeVar("S", bound="Snapshot")

_VERSION_KEY: Final = "version"
_FIRST_VERSION: Final = 1
_STORED_AS: Final = "stored_as"


class SnapshotError(ValueError):
    """A stored snapshot does not fit the record it is read into; the field is named."""


class Snapshot:
    """Mixin that gives a frozen dataclass ``to_json`` and ``from_json``.

    Fields may be str, bool, int, float, Decimal, date, datetime, an enumeration of these, another
    snapshot, ``X | None``, ``tuple[X, ...]``, ``tuple[X, Y]``, ``frozenset[X]``,
    ``Mapping[str, X]`` or ``str | X`` with a snapshot X. No field is named ``version``;
    ``stored_as`` gives a field another key.
    """

    __slots__ = ()

    #: Of the shape that ``to_json`` writes; counts only where the record is the outermost one.
    VERSION: ClassVar[int] = _FIRST_VERSION
    #: By older version: its JSON (without the version) in, that of the next version out.
    UPGRADES: ClassVar[Mapping[int, Callable[[Mapping[str, Any]], Mapping[str, Any]]]] = {}
    #: Fields that are not written while they are None or empty; each needs a default.
    OMITTED: ClassVar[frozenset[str]] = frozenset()

    def to_json(self) -> dict[str, Any]:
        """Plain dicts, lists, strings, numbers, booleans and None, in field order."""
        return {_VERSION_KEY: self.VERSION, **_encode_fields(self)}

    def contract_json(self) -> dict[str, Any]:
        """The same without the version: for contracts, whose keys are never renamed."""
        return _encode_fields(self)

    @classmethod
    def extending(cls, base: Snapshot, **more: Any) -> Self:
        """A record of this class: what it shares with ``base``, and ``more`` beside or instead."""
        shared = {
            field.name: getattr(base, field.name)
            for field in dataclasses.fields(cast("type[DataclassInstance]", cls))
            if hasattr(base, field.name)
        }
        return cls(**{**shared, **more})

    @classmethod
    def from_json(cls, data: Mapping[str, Any]) -> Self:
        """The record that ``to_json`` wrote, now or in an older version.

        Raises SnapshotError naming the field, or the version when it is not known here.
        """
        return _decode_dataclass(cls, _upgraded(cls, data), cls.__name__)


class StoredIn(Generic[S]):
    """A model's JSON column as its record: ``load_plan = StoredIn(LoadPlan, "plan")``.

    Read only; decoded once for each value of the column. Raises SnapshotError like ``from_json``.
    """

    def __init__(self, record: type[S], column: str) -> None:
        self.record, self.column = record, column

    def __set_name__(self, owner: type, name: str) -> None:
        self._kept_as = f"_{name}_decoded"

    @overload
    def __get__(self, row: None, owner: type) -> Self: ...

    @overload
    def __get__(self, row: object, owner: type) -> S: ...

    def __get__(self, row: object | None, owner: type) -> Self | S:
        if row is None:
            return self
        stored = getattr(row, self.column)
        kept: tuple[Any, S] | None = row.__dict__.get(self._kept_as)
        if kept is None or kept[0] is not stored:
            kept = row.__dict__[self._kept_as] = (stored, self.record.from_json(stored))
        return kept[1]

    def __set__(self, row: object, value: S) -> NoReturn:
        raise AttributeError(f"Write {self.column}, with the JSON of the record.")


def stored_as(key: str) -> Mapping[str, str]:
    """Metadata of a dataclass field whose key in the JSON is another than its name."""
    return {_STORED_AS: key}


def _stored_key(field: dataclasses.Field[Any]) -> str:
    key: str = field.metadata.get(_STORED_AS, field.name)
    return key


def _upgraded(cls: type[Snapshot], data: Any) -> Any:
    """The JSON in the newest shape, without its version."""
    if not isinstance(data, Mapping):
        return data  # refused with its name where it is decoded
    found = data.get(_VERSION_KEY, _FIRST_VERSION)
    if not isinstance(found, int) or isinstance(found, bool) or found < _FIRST_VERSION:
        raise SnapshotError(f"{cls.__name__}.{_VERSION_KEY}: {found!r} is not a version.")
    if found > cls.VERSION:
        raise SnapshotError(
            f"{cls.__name__}.{_VERSION_KEY}: {found} was written by newer code; this code reads"
            f" up to {cls.VERSION}."
        )
    fields: Mapping[str, Any] = {key: part for key, part in data.items() if key != _VERSION_KEY}
    for version in range(found, cls.VERSION):
        if version not in cls.UPGRADES:
            raise SnapshotError(
                f"{cls.__name__}.{_VERSION_KEY}: there is no upgrade from {version}."
            )
        try:
            fields = cls.UPGRADES[version](fields)
        except (LookupError, TypeError, AttributeError) as error:
            raise SnapshotError(
                f"{cls.__name__}: cannot be upgraded from version {version}: {error!r}."
            ) from error
    return fields


def _encode_fields(record: Snapshot) -> dict[str, Any]:
    return {
        _stored_key(field): _encode(getattr(record, field.name), field.name)
        for field in dataclasses.fields(cast("DataclassInstance", record))
        if field.name not in record.OMITTED or not _is_empty(getattr(record, field.name))
    }


def _is_empty(value: Any) -> bool:
    return value is None or (isinstance(value, tuple | Mapping) and not value)


def _encode(value: Any, path: str) -> Any:
    if isinstance(value, Snapshot):
        return _encode_fields(value)
    if isinstance(value, tuple):
        return [_encode(item, f"{path}[{index}]") for index, item in enumerate(value)]
    if isinstance(value, frozenset):
        return sorted(_encode(item, path) for item in value)
    if isinstance(value, Mapping):
        return {_key(key, path): _encode(item, f"{path}.{key}") for key, item in value.items()}
    return _encode_plain(value.value if isinstance(value, Enum) else value, path)


def _encode_plain(value: Any, path: str) -> Any:
    if isinstance(value, Decimal):
        if not value.is_finite():
            raise SnapshotError(f"{path}: {value} is not a finite number.")
        return str(value)
    if isinstance(value, dt.date):  # a datetime is a date
        return value.isoformat()
    if isinstance(value, float) and not math.isfinite(value):
        raise SnapshotError(f"{path}: {value} is not a finite number.")
    if value is None or isinstance(value, bool | int | float | str):
        return value
    raise SnapshotError(f"{path}: a {type(value).__name__} cannot be stored in a snapshot.")


def _key(key: Any, path: str) -> str:
    plain = key.value if isinstance(key, Enum) else key
    if not isinstance(plain, str):
        raise SnapshotError(f"{path}: a {type(key).__name__} cannot be a key in a snapshot.")
    return plain


@functools.cache  # the hints of a class are resolved from their text once
def _fields(cls: Hashable) -> Mapping[str, tuple[str, Any]]:
    """Name and hint of each field, by its key in the JSON."""
    hints = typing.get_type_hints(cls)
    return {
        _stored_key(field): (field.name, hints[field.name])
        for field in dataclasses.fields(cast("type[DataclassInstance]", cls))
    }


def _decode_dataclass(cls: type[T], data: Any, path: str) -> T:
    if not isinstance(data, Mapping):
        raise SnapshotError(f"{path}: expected an object, got {type(data).__name__}.")
    fields = _fields(cast("Hashable", cls))
    if unknown := data.keys() - fields.keys():
        raise SnapshotError(f"{path}: unknown field {min(unknown)!r}.")
    values = {
        name: _decode(hint, data[key], f"{path}.{key}")
        for key, (name, hint) in fields.items()
        if key in data  # a field added later takes its default
    }
    try:
        return cls(**values)
    except TypeError as error:
        raise SnapshotError(f"{path}: {error}.") from error


def _decode(hint: Any, value: Any, path: str) -> Any:
    return _decoder(hint)(value, path)


@functools.cache  # a hint is taken apart once, not for every value of every row
def _decoder(hint: Any) -> Callable[[Any, str], Any]:
    origin, args = typing.get_origin(hint), typing.get_args(hint)
    if origin in (types.UnionType, typing.Union):
        parts = [part for part in args if part is not types.NoneType]
        # At most one record and one plain value: which it is shows in the JSON.
        record, plain = (
            next(filter(wanted, parts), parts[0])
            for wanted in (_is_record, lambda part: not _is_record(part))
        )
        decode = partial(_decode_one_of, _decoder(plain), _decoder(record))
        return partial(_decode_optional, decode) if len(parts) < len(args) else decode
    if origin is tuple:
        return partial(_decode_tuple, args)
    if origin is frozenset:
        return partial(_decode_set, args[0])
    if origin is Mapping:
        return partial(_decode_mapping, args)
    if dataclasses.is_dataclass(hint):
        return partial(_decode_dataclass, cast("type[Any]", hint))
    if isinstance(hint, type) and issubclass(hint, Enum):
        return partial(_decode_enum, hint)
    return partial(_decode_plain, hint)


def _is_record(hint: Any) -> bool:
    return dataclasses.is_dataclass(hint)


def _decode_optional(decode: Callable[[Any, str], Any], value: Any, path: str) -> Any:
    return None if value is None else decode(value, path)


def _decode_one_of(
    plain: Callable[[Any, str], Any], record: Callable[[Any, str], Any], value: Any, path: str
) -> Any:
    return record(value, path) if isinstance(value, Mapping) else plain(value, path)


def _decode_set(item: Any, value: Any, path: str) -> frozenset[Any]:
    return frozenset(_decode_tuple((item, ...), value, path))


def _decode_tuple(items: tuple[Any, ...], value: Any, path: str) -> tuple[Any, ...]:
    if not isinstance(value, list | tuple):
        raise SnapshotError(f"{path}: expected a list, got {type(value).__name__}.")
    if len(items) == 2 and items[1] is ...:
        items = (items[0],) * len(value)
    if len(items) != len(value):
        raise SnapshotError(f"{path}: expected {len(items)} entries, got {len(value)}.")
    return tuple(
        _decode(item, part, f"{path}[{index}]")
        for index, (item, part) in enumerate(zip(items, value, strict=True))
    )


def _decode_mapping(args: tuple[Any, ...], value: Any, path: str) -> Mapping[Any, Any]:
    if not isinstance(value, Mapping):
        raise SnapshotError(f"{path}: expected an object, got {type(value).__name__}.")
    key_hint, item_hint = args
    return {
        _decode(key_hint, key, path): _decode(item_hint, item, f"{path}.{key}")
        for key, item in value.items()
    }


def _decode_enum(hint: type[Enum], value: Any, path: str) -> Enum:
    try:
        return hint(value)
    except ValueError as error:
        raise SnapshotError(f"{path}: {value!r} is not a {hint.__name__}.") from error


_PLAIN: Final[Mapping[Any, tuple[type, ...]]] = {float: (int, float), int: (int,), bool: (bool,)}


def _decode_plain(hint: Any, value: Any, path: str) -> Any:
    wanted = _PLAIN.get(hint, (str,))
    if not isinstance(value, wanted) or (isinstance(value, bool) and hint is not bool):
        raise SnapshotError(f"{path}: expected {hint.__name__}, got {value!r}.")
    if hint in (str, bool):
        return value
    try:
        if hint in (dt.date, dt.datetime):
            return hint.fromisoformat(value)
        return hint(value)  # float, int or Decimal
    except (ValueError, ArithmeticError) as error:
        raise SnapshotError(f"{path}: {value!r} is not a {hint.__name__}.") from error
