"""Usual levels, offered where a content was asked for without a figure. Percent by weight.

None of them is taken unasked. Where a label law sets the least that may be guaranteed, that comes
first, with its source; the others are common practice without a source.
"""

from __future__ import annotations

from collections.abc import Mapping
from typing import Final

from formulas.engine.composition import SLOW_RELEASE
from formulas.engine.label.rules import MINIMUM_SOURCE, MINIMUMS, SLOW_SHARE_PCT, SLOW_SOURCE
from formulas.engine.mark import Mark
from formulas.spoken_wish.meanings import Choice, Content
from formulas.spoken_wish.saying import say

_PRACTICE: Final = Mark.COMMON_PRACTICE.value
_LEAST: Final = f"least a label may guarantee: {MINIMUM_SOURCE}"
_USUAL: Final[Mapping[str, tuple[float, ...]]] = {
    "N": (20.0, 24.0, 28.0),
    "P2O5": (1.0, 2.0, 3.0),
    "K2O": (1.0, 2.0, 3.0),
    "Fe": (0.5, 1.0),
    "Mn": (0.1,),
    "Zn": (0.1,),
    "S": (2.0,),
    "humic_acid": (1.0, 2.0),
    "fulvic_acid": (0.5, 1.0),
    "seaweed_extract": (0.5, 1.0),
}
_SLOW: Final = (30.0, 50.0, 60.0)
#: Contents of a micronutrient package of a lawn blend.
_MICRO_PACKAGES: Final[tuple[tuple[Mapping[str, float], str], ...]] = (
    ({key: MINIMUMS[key].pct for key in ("Fe", "Mn")}, _LEAST),
    ({key: MINIMUMS[key].pct for key in ("Fe", "Mn", "Zn")}, _LEAST),
    ({"Fe": 0.5, "Mn": 0.1, "Zn": 0.05}, _PRACTICE),
)
#: A low-volume ride-on sprayer, gal per 1,000 sq ft; common practice, no source.
LOW_VOLUME_GAL_PER_1000SQFT: Final = 0.5


def usual_levels(key: str) -> tuple[Choice, ...]:
    """Levels of a content, or of the slow-release share, in words a line takes."""
    if key == "Cl":
        # Nobody asks for more of it; "low chloride" is a maximum.
        return (Choice(say(Content(key, high_pct=0.0))),)
    if key == SLOW_RELEASE:
        least = f"least share a label may call slow release: {SLOW_SOURCE}"
        levels = [(float(SLOW_SHARE_PCT), least), *((pct, _PRACTICE) for pct in _SLOW)]
    else:
        levels = [(MINIMUMS[key].pct, _LEAST)] if key in MINIMUMS else []
        levels += [(pct, _PRACTICE) for pct in _USUAL.get(key, ())]
    return tuple(Choice(say(Content(key, pct)), source) for pct, source in levels)


def micro_packages() -> tuple[Choice, ...]:
    """Which micronutrients, and how much of each."""
    return tuple(
        Choice(", ".join(say(Content(key, pct)) for key, pct in contents.items()), source)
        for contents, source in _MICRO_PACKAGES
    )
