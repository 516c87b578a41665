"""What a stored record must still hold when today's code writes it again."""

from collections.abc import Mapping, Sequence
from typing import Any


def holds(written: Any, stored: Any) -> bool:
    """Whether all of ``stored`` stands in ``written``; later fields may stand beside it."""
    if isinstance(stored, Mapping):
        return isinstance(written, Mapping) and all(
            key in written and holds(written[key], part) for key, part in stored.items()
        )
    if isinstance(stored, Sequence) and not isinstance(stored, str):
        return len(written) == len(stored) and all(map(holds, written, stored))
    return bool(written == stored)
