"""Strict reading of a JSON request: every wrong value is refused with its path and a sentence.

JSON as Python reads it admits NaN, Infinity, integers of any length, true as the number 1 and
the same key twice. None of that is a number or a wish here. A key nobody knows is refused by
name, because a misspelt limit that is silently ignored makes a wrong blend.
"""

from __future__ import annotations

import json
import math
import re
from collections.abc import Iterator, Mapping
from decimal import Decimal, InvalidOperation
from typing import Any, Final

from blendshop.errors import BadInput

#: No share, mass, volume, density or rate of the trade comes near this.
LARGEST_NUMBER: Final = 1e9
#: Nor this near to zero, where a quotient has no end.
SMALLEST_NUMBER: Final = 1e-12
LARGEST_COST: Final = Decimal(1_000_000)
LONGEST_AMOUNT: Final = 40
LONGEST_LIST: Final = 500
LONGEST_TEXT: Final = 400
#: Refused fields that are named one by one, and how much of a key nobody knows is repeated.
MOST_REFUSALS: Final = 50
LONGEST_KEY: Final = 80
#: What may be half of a character: an escape of one, or the bytes of one.
_SURROGATES: Final = re.compile(rb"\\u[dD][89a-fA-F]|\xed[\xa0-\xbf]")


def read_json(text: str | bytes) -> Any:
    """The parsed text; BadInput for broken JSON, a key given twice, absurd size or depth.

    Half a character (a lone surrogate) is none: it could be neither stored nor sent back.
    """
    try:
        found = json.loads(text, object_pairs_hook=_once)
        raw = text if isinstance(text, bytes) else text.encode("utf-8", "surrogatepass")
        if _SURROGATES.search(raw):
            json.dumps(found, ensure_ascii=False).encode()
    except RecursionError as error:
        raise BadInput("The JSON is nested too deeply.") from error
    except UnicodeEncodeError as error:
        raise BadInput("The JSON holds half a character (a lone surrogate).") from error
    except ValueError as error:
        # A broken encoding, broken syntax and an endless integer are all ValueErrors.
        raise BadInput(f"This is not readable JSON: {error}.") from error
    return found


def _once(pairs: list[tuple[str, Any]]) -> dict[str, Any]:
    found: dict[str, Any] = {}
    for key, value in pairs:
        if key in found:
            shown = key[:LONGEST_KEY]
            raise BadInput(f"The key {shown} is given twice.", fields={shown: "Is given twice."})
        found[key] = value
    return found


class Refusals:
    """The errors found so far, one message for each path, in the order found.

    Only the first ``MOST_REFUSALS`` are kept; of the others only that there are more.
    """

    def __init__(self) -> None:
        self.fields: dict[str, str] = {}

    def add(self, path: str, message: str) -> None:
        if len(self.fields) < MOST_REFUSALS:
            self.fields.setdefault(path or "body", message)
        else:
            self.fields.setdefault("body", "More fields need correcting than are named here.")

    def covers(self, path: str) -> bool:
        """Whether this path, or a part of what stands at it, was refused already."""
        return any(
            known == path or known.startswith(f"{path}.") or path.startswith(f"{known}.")
            for known in self.fields
        )

    def error(self) -> BadInput:
        return BadInput("The request has fields that need correcting.", fields=self.fields)


class Node:
    """One JSON object, read key by key; ``done`` refuses the keys nobody asked for.

    Reading returns None for an absent (or null) optional value and for a refused one; the
    refusal is noted, so the caller goes on and finds every other error too.
    """

    def __init__(self, value: Any, path: str, refusals: Refusals) -> None:
        self.path = path
        self.refusals = refusals
        self.values: dict[str, Any] = {}
        self.known: set[str] = set()
        if isinstance(value, Mapping):
            self.values = dict(value)
        else:
            refusals.add(path, "Must be an object with named values.")

    def at(self, key: str) -> str:
        return f"{self.path}.{key}" if self.path else key

    def has(self, key: str) -> bool:
        return self.values.get(key) is not None

    def _take(self, key: str, *, required: bool) -> Any:
        self.known.add(key)
        value = self.values.get(key)
        if value is None and required:
            self.refusals.add(self.at(key), "Is missing.")
        return value

    def number(self, key: str, *, required: bool = False) -> float | None:
        value = self._take(key, required=required)
        if value is None:
            return None
        if isinstance(value, bool) or not isinstance(value, int | float):
            self._refuse(key, f"Must be a number, not {_kind(value)}.")
            return None
        if isinstance(value, float) and not math.isfinite(value):
            self._refuse(key, "Must be a finite number.")
            return None
        if abs(value) > LARGEST_NUMBER:
            self._refuse(key, f"Must not be larger than {LARGEST_NUMBER:,.0f}.")
            return None
        if 0 < abs(value) < SMALLEST_NUMBER:
            self._refuse(key, f"Must be 0 or at least {SMALLEST_NUMBER:g}.")
            return None
        return value + 0.0

    def whole_number(self, key: str) -> int | None:
        value = self.number(key)
        if value is None:
            return None
        if value != int(value):
            self._refuse(key, "Must be a whole number.")
            return None
        return int(value)

    def text(self, key: str, *, required: bool = False) -> str | None:
        value = self._take(key, required=required)
        if value is None:
            return None
        if not isinstance(value, str):
            self._refuse(key, f"Must be text, not {_kind(value)}.")
            return None
        if not value.strip():
            self._refuse(key, "Must not be empty.")
            return None
        if len(value) > LONGEST_TEXT or "\x00" in value:
            self._refuse(key, f"Must be at most {LONGEST_TEXT} plain characters.")
            return None
        return value

    def cost(self, key: str, *, required: bool = False) -> Decimal | None:
        """Dollars: a string such as "0.2150", or a plain number."""
        value = self._take(key, required=required)
        if value is None:
            return None
        if isinstance(value, bool) or not isinstance(value, int | float | str):
            self._refuse(key, f'Must be an amount such as "0.2150", not {_kind(value)}.')
            return None
        if isinstance(value, str) and len(value) > LONGEST_AMOUNT:
            self._refuse(key, f"Must be at most {LONGEST_AMOUNT} characters.")
            return None
        try:
            amount = Decimal(value.strip()) if isinstance(value, str) else Decimal(repr(value))
        except InvalidOperation:
            self._refuse(key, 'Must be an amount such as "0.2150".')
            return None
        if not amount.is_finite():
            self._refuse(key, "Must be a finite amount.")
            return None
        if not 0 <= amount <= LARGEST_COST:
            self._refuse(key, f"Must be from 0 to {LARGEST_COST:,}.")
            return None
        if amount.normalize().as_tuple().exponent < -12:  # type: ignore[operator] # it is finite
            self._refuse(key, "Must have at most 12 decimal places.")
            return None
        return amount

    def texts(self, key: str, *, most: int = LONGEST_LIST) -> tuple[str, ...]:
        found: list[str] = []
        for index, value in enumerate(self._list(key, most)):
            if not isinstance(value, str) or not value.strip():
                self.refusals.add(f"{self.at(key)}.{index}", "Must be text that is not empty.")
            elif len(value) > LONGEST_TEXT or "\x00" in value:
                words = f"Must be at most {LONGEST_TEXT} plain characters."
                self.refusals.add(f"{self.at(key)}.{index}", words)
            else:
                found.append(value)
        return tuple(found)

    def child(self, key: str, *, required: bool = False) -> Node | None:
        value = self._take(key, required=required)
        return None if value is None else Node(value, self.at(key), self.refusals)

    def children(self, key: str, *, most: int = LONGEST_LIST) -> Iterator[Node]:
        for index, value in enumerate(self._list(key, most)):
            yield Node(value, f"{self.at(key)}.{index}", self.refusals)

    def numbers(self, key: str) -> dict[str, float]:
        """An object that maps names to numbers, such as an analysis."""
        node = self.child(key)
        if node is None:
            return {}
        if len(node.values) > LONGEST_LIST:
            self._refuse(key, f"Must hold at most {LONGEST_LIST} entries.")
            return {}
        found = {name: node.number(name) for name in node.values}
        for name in node.values:
            if node.values[name] is None:
                self.refusals.add(node.at(name), "Must be a number, not null.")
        return {name: value for name, value in found.items() if value is not None}

    def raw(self, key: str) -> Any:
        return self._take(key, required=False)

    def done(self) -> None:
        for key in self.values:
            if key not in self.known:
                self.refusals.add(self.at(str(key)[:LONGEST_KEY]), "Is not a known key.")

    def _list(self, key: str, most: int) -> list[Any]:
        value = self._take(key, required=False)
        if value is None:
            return []
        if not isinstance(value, list | tuple):
            self.refusals.add(self.at(key), f"Must be a list, not {_kind(value)}.")
            return []
        if len(value) > most:
            self.refusals.add(self.at(key), f"Must hold at most {most} entries, not {len(value)}.")
            return []
        return list(value)

    def _refuse(self, key: str, message: str) -> None:
        self.refusals.add(self.at(key), message)


def _kind(value: Any) -> str:
    """A JSON type in words."""
    if value is None:
        return "null"
    if isinstance(value, bool):
        return "true or false"
    if isinstance(value, str):
        return "text"
    if isinstance(value, Mapping):
        return "an object"
    if isinstance(value, list | tuple):
        return "a list"
    return "a number"
