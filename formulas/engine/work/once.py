"""Work on a frozen value or a tuple of them done once, for as long as that very one is asked about.

A catalogue is asked hundreds of times (each point of a curve, each try of a load). Mappings in
its values have no hash, so what was asked is known by being the same object, not by being equal.
"""

from __future__ import annotations

from collections import OrderedDict
from collections.abc import Callable
from functools import wraps
from typing import Final, TypeVar

#: Tuples kept: catalogues at hand, and the few stocks of each recipe a load is tried with.
_KEPT: Final = 64
#: Values kept: the stocks of a catalogue or two.
_KEPT_VALUES: Final = 1024

_Value = TypeVar("_Value")
_Result = TypeVar("_Result")


def once_per_tuple(
    work: Callable[[tuple[_Value, ...]], _Result],
) -> Callable[[tuple[_Value, ...]], _Result]:
    """``work`` remembered by the identity of its argument; its result must not be changed."""
    return _once(work, _KEPT)


def once_per_value(work: Callable[[_Value], _Result]) -> Callable[[_Value], _Result]:
    """The same of a single value, which must not be changed either."""
    return _once(work, _KEPT_VALUES)


def _once(work: Callable[[_Value], _Result], most: int) -> Callable[[_Value], _Result]:
    # While a value is kept, no other can have its identity; each step is safe between threads.
    kept: OrderedDict[int, tuple[_Value, _Result]] = OrderedDict()

    @wraps(work)
    def found(value: _Value) -> _Result:
        key = id(value)
        try:
            kept.move_to_end(key)
            return kept[key][1]
        except KeyError:  # not met yet, or dropped since
            result = work(value)
        kept[key] = (value, result)
        if len(kept) > most:
            kept.popitem(last=False)
        return result

    return found
