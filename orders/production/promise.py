"""What the tank must hold, as the engine's wishes."""

from __future__ import annotations

from formulas.engine.problem import NutrientWish, SlowReleaseWish
from orders.models import Batch
from orders.production.as_made import promised, wished_most


def promised_limits(
    batch: Batch, *, keeps_maxima: bool = True
) -> tuple[tuple[NutrientWish, ...], SlowReleaseWish | None]:
    """Promised minima and, with ``keeps_maxima``, what was wanted at most."""
    minima, slow = promised(batch)
    maxima, slow_max = wished_most(batch) if keeps_maxima else ({}, None)
    wishes = tuple(
        NutrientWish(key, min_pct=minima.get(key), max_pct=maxima.get(key))
        for key in dict.fromkeys([*minima, *maxima])
    )
    if slow is None and slow_max is None:
        return wishes, None
    return wishes, SlowReleaseWish(min_pct=slow, max_pct=slow_max)
