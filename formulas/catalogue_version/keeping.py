"""What is read from the catalogue's tables once for each of their versions, and kept in a process.

The version is one query. A version is drawn by lot, so that what was read inside a transaction,
under a version that only it sees, is never found by anybody when it is rolled back.
"""

from __future__ import annotations

import threading
from collections import OrderedDict
from collections.abc import Callable, Hashable
from typing import Final, Generic, TypeVar

from formulas.models import CatalogueVersion

Key = TypeVar("Key", bound=Hashable)
Value = TypeVar("Value")

#: Versions and days kept of one reading: today's, yesterday's, those of a transaction or two.
_KEPT: Final = 8
#: How often a reading is begun again because somebody changed the catalogue meanwhile.
_TRIES: Final = 3


def version() -> str | None:
    """The version this transaction sees; None while the catalogue was never changed."""
    return CatalogueVersion.objects.values_list("token", flat=True).first()


class KeptByVersion(Generic[Key, Value]):
    """``read(key)`` once for each version of the catalogue; the result is shared, never changed.

    All threads of a process get the same object, so that what is worked out of it by identity is
    worked out once.
    """

    def __init__(self, read: Callable[[Key], Value]) -> None:
        self._read = read
        self._kept: OrderedDict[tuple[str, Key], Value] = OrderedDict()
        self._lock = threading.Lock()

    def __call__(self, key: Key) -> Value:
        seen = version()
        for _ in range(_TRIES):
            if seen is None:
                break
            with self._lock:
                if (seen, key) in self._kept:
                    self._kept.move_to_end((seen, key))
                    return self._kept[seen, key]
            value = self._read(key)
            # Several queries see several moments: only one version is worth keeping.
            before, seen = seen, version()
            if before == seen:
                return self._keep((before, key), value)
        return self._read(key)

    def _keep(self, at: tuple[str, Key], value: Value) -> Value:
        """What another thread kept first, else ``value``."""
        with self._lock:
            kept = self._kept.setdefault(at, value)
            while len(self._kept) > _KEPT:
                self._kept.popitem(last=False)
            return kept
