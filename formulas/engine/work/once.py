"""Work on a frozen value or a tuple of them done once, for as long as that very one is asked about.

A catalogue is asked hundreds of times (each point of a curve, each try of a load). Mappings in
its values have no hash, so what was asked is known by being the same object, not by being equal.
"""

from __future__ import annotations

from collections.abc import Callable
from functools import lru_cache, wraps
from typing import Final, Generic, TypeVar

#: Tuples kept: catalogues at hand, and the few stocks of each recipe a load is tried with.
_KEPT: Final = 64
#: Values kept: the stocks of a catalogue or two.
_KEPT_VALUES: Final = 1024

_Value = TypeVar("_Value")
_Result = TypeVar("_Result")


class _Same(Generic[_Value]):
    """A value that equals only itself; while it is kept, no other can have its identity."""

    __slots__ = ("value",)

    def __init__(self, value: _Value) -> None:
        self.value = value

    def __eq__(self, other: object) -> bool:
        return isinstance(other, _Same) and self.value is other.value

    def __hash__(self) -> int:
        return id(self.value)


def once_per_tuple(
    work: Callable[[tuple[_Value, ...]], _Result],
) -> Callable[[tuple[_Value, ...]], _Result]:
    """``work`` remembered by the identity of its argument; its result must not be changed."""
    return _once(work, _KEPT)


def once_per_value(work: Callable[[_Value], _Result]) -> Callable[[_Value], _Result]:
    """The same of a single value, which must not be changed either."""
    return _once(work, _KEPT_VALUES)


def _once(work: Callable[[_Value], _Result], most: int) -> Callable[[_Value], _Result]:
    @lru_cache(maxsize=most)
    def kept(same: _Same[_Value]) -> _Result:
        return work(same.value)

    @wraps(work)
    def found(value: _Value) -> _Result:
        return kept(_Same(value))

    return found
