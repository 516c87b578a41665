"""What a blend promises: the minima and maxima every load of it has to keep."""

from __future__ import annotations

import re
from collections.abc import Mapping
from typing import Final, Protocol

from formulas.answers.wish import Range, Wish
from formulas.engine.composition import content_pct
from orders.frozen.load_plan import LoadPromise

_GRADE_KEYS: Final = ("N", "P2O5", "K2O")
#: Differences of decimal figures carried as floats.
_NOISE_PCT: Final = 1e-6


class Promising(Protocol):
    """What a promise is read from: a saved revision, or a blend that is not saved yet."""

    @property
    def wished(self) -> Wish: ...

    @property
    def grade(self) -> str: ...

    @property
    def analysis(self) -> Mapping[str, float]: ...


def load_promise(blend: Promising) -> LoadPromise:
    """What the customer was promised at least and wanted at most, percent by weight.

    Maxima are kept like minima: behind many stands a law. One at its own minimum leaves no scale
    any room, and a load is then refused with the narrowest window that can be made.
    """
    wished = blend.wished
    slow = wished.slow_release_pct or Range()
    return LoadPromise(
        minima_pct=_promised_minima_pct(blend),
        slow_release_min_pct=slow.min,
        maxima_pct={each.nutrient: each.max for each in wished.targets if each.max is not None},
        slow_release_max_pct=slow.max,
    )


def _promised_minima_pct(blend: Promising) -> dict[str, float]:
    """The wish's minima and the printed grade.

    The grade counts because it was quoted; a figure of it above the blend's own analysis (there
    is none unless somebody edited the grade) is no promise that could be kept.
    """
    targets = blend.wished.targets
    minima = {target.nutrient: target.min for target in targets if target.min is not None}
    for key, pct in grade_figures(blend.grade).items():
        if 0 < pct <= content_pct(blend.analysis, key) + _NOISE_PCT:
            minima[key] = max(pct, minima.get(key, 0.0))
    return minima


def grade_figures(grade: str) -> dict[str, float]:
    """N, P2O5 and K2O of a grade such as ``24-0-3`` or ``24.5-0-3.2``; empty if it is no grade."""
    figures = re.findall(r"\d+(?:\.\d+)?", grade)
    if len(figures) < len(_GRADE_KEYS):
        return {}
    return {key: float(text) for key, text in zip(_GRADE_KEYS, figures, strict=False)}
