"""Pounds and percent as the engine's sentences write them."""

from __future__ import annotations

import math
from typing import Final

#: Pounds, percent or feet by which a limit may be missed through rounding in floating point.
TOLERANCE: Final = 1e-6


def pounds(lb: float) -> str:
    """Pounds to two decimals, to three where the third matters."""
    text = f"{lb:.3f}"
    return f"{text.removesuffix('0')} lb"


def percent(pct: float) -> str:
    """Percent without superfluous zeros."""
    return f"{round(pct, 2):g} %"


def pounds_down(lb: float) -> str:
    """Pounds rounded down, so that following the sentence keeps the limit."""
    return pounds(max(0.0, math.floor(lb * 1000 + TOLERANCE) / 1000))


def percent_up(pct: float) -> str:
    """Percent rounded up to a tenth, so that following the sentence keeps the limit."""
    return percent(math.ceil(pct * 10 - TOLERANCE) / 10)
