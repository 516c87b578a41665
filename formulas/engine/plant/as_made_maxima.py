"""What a batch was to hold at most, against what was made of it.

Investigational allowances are given for findings below a guarantee; nothing published lets a
batch hold more than it was to hold. So a maximum is kept or it is not, without an allowance.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from enum import StrEnum
from typing import Final

from formulas.engine.composition import SLOW_RELEASE, WISH_KEYS, content_pct, slow_release_pct_of_n
from formulas.engine.problem import FieldError

#: Differences of decimal figures carried as floats.
_NOISE_PCT: Final = 1e-9


class MaximumVerdict(StrEnum):
    """How what was made stands to a maximum."""

    MEETS = "meets"
    ABOVE = "above"


@dataclass(frozen=True, slots=True)
class MaximumAsMade:
    """One maximum against what was made, percent by weight.

    ``key`` is a composition key, or ``slow_release`` in percent of total nitrogen.
    """

    key: str
    most_pct: float
    made_pct: float
    verdict: MaximumVerdict


def maxima_as_made(
    contents: Mapping[str, float], maxima: Mapping[str, float], slow_release_max_pct: float | None
) -> Iterator[MaximumAsMade]:
    """Each maximum in label order, the slow-release share last; ``contents`` in percent."""
    for key in WISH_KEYS:
        if key in maxima:
            yield _check(key, maxima[key], content_pct(contents, key))
    if slow_release_max_pct is not None:
        share = slow_release_pct_of_n(contents) or 0.0
        yield _check(SLOW_RELEASE, slow_release_max_pct, share)


def maximum_errors(
    maxima: Mapping[str, float], slow_release_max_pct: float | None
) -> Iterator[FieldError]:
    """Every maximum that cannot be one, by its field."""
    for key, pct in maxima.items():
        if key not in WISH_KEYS:
            yield FieldError(f"maxima.{key}", f"{key} is not a known nutrient or ingredient.")
        elif not _is_pct(pct):
            yield FieldError(f"maxima.{key}", "Must be a number from 0 to 100 percent.")
    if slow_release_max_pct is not None and not _is_pct(slow_release_max_pct):
        yield FieldError("slow_release_max_pct", "Must be a number from 0 to 100 percent.")


def _check(key: str, most: float, made: float) -> MaximumAsMade:
    verdict = MaximumVerdict.MEETS if made <= most + _NOISE_PCT else MaximumVerdict.ABOVE
    return MaximumAsMade(key, most, made, verdict)


def _is_pct(value: float) -> bool:
    return math.isfinite(value) and 0 <= value <= 100
