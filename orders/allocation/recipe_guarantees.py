"""What another recipe of a revision has to keep, so that nothing the customer was told changes."""

from __future__ import annotations

import math
from typing import Final

from formulas.answers.promised_grade import SURE
from formulas.answers.wish import Range
from formulas.engine import problem as engine
from formulas.engine.composition import content_pct
from formulas.models import BlendRevision
from orders.planning.load_promise import grade_figures, load_promise

#: A printed grade is rounded down to tenths; below the next tenth it stays the same.
_GRADE_STEP: Final = 0.1 - 1e-4
#: Frozen analyses are rounded to six decimals, percent.
_FROZEN: Final = 1e-6
#: The slow-release share of the quote stays the same in whole percent.
_WHOLE_PERCENT: Final = 1.0 - 1e-6


def guarantees(
    revision: BlendRevision,
) -> tuple[tuple[engine.NutrientWish, ...], engine.SlowReleaseWish | None]:
    """The whole wish, the printed grade, the slow-release share, and no more phosphate."""
    low = load_promise(revision).minima_pct
    high: dict[str, float] = {
        target.nutrient: target.max for target in revision.wished.targets if target.max is not None
    }
    wished = {target.nutrient for target in revision.wished.targets if target.min}
    for key, pct in grade_figures(revision.grade).items():
        if key not in wished:  # of what was wished, the grade says the wish
            high[key] = min(high.get(key, math.inf), (pct + _GRADE_STEP) / SURE)
    had = content_pct(revision.analysis, "P2O5")
    had = had + _FROZEN if had else 0.0
    high["P2O5"] = max(low.get("P2O5", 0.0), min(high.get("P2O5", math.inf), had))
    wishes = tuple(
        engine.NutrientWish(key, low.get(key), high.get(key)) for key in sorted({*low, *high})
    )
    slow = revision.wished.slow_release_pct or Range()
    if revision.slow_release_pct is None:
        return wishes, None
    # 6 places: a share of exactly 50 % is not printed as 49.
    told = math.floor(round(revision.slow_release_pct, 6))
    least = max(slow.min or 0.0, float(told))
    most = min(slow.max or 100.0, told + _WHOLE_PERCENT)
    return wishes, engine.SlowReleaseWish(least, max(least, most))
