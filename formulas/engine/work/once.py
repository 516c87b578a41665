"""Work on a tuple of frozen values done once, for as long as that very tuple is asked about.

A catalogue is asked hundreds of times (each point of a curve, each try of a load). Mappings in
its values have no hash, so the tuple is known by being the same object, not by being equal.
"""

from __future__ import annotations

from collections.abc import Callable
from functools import lru_cache, wraps
from typing import Final, Generic, TypeVar

#: Tuples kept: catalogues at hand, and the few stocks of each recipe a load is tried with.
_KEPT: Final = 64

_Value = TypeVar("_Value")
_Result = TypeVar("_Result")


class _Same(Generic[_Value]):
    """A tuple that equals only itself; while it is kept, no other can have its identity."""

    __slots__ = ("values",)

    def __init__(self, values: tuple[_Value, ...]) -> None:
        self.values = values

    def __eq__(self, other: object) -> bool:
        return isinstance(other, _Same) and self.values is other.values

    def __hash__(self) -> int:
        return id(self.values)


def once_per_tuple(
    work: Callable[[tuple[_Value, ...]], _Result],
) -> Callable[[tuple[_Value, ...]], _Result]:
    """``work`` remembered by the identity of its argument; its result must not be changed."""

    @lru_cache(maxsize=_KEPT)
    def kept(same: _Same[_Value]) -> _Result:
        return work(same.values)

    @wraps(work)
    def found(values: tuple[_Value, ...]) -> _Result:
        return kept(_Same(values))

    return found
