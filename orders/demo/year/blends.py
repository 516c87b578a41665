"""Blends of the demo's year beside the demo's own; all of the plant's book. Invented."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any, Final

from orders.demo.year import people_and_places as of

_FILL: Final = {"volume_gal": 265}
#: Name, note, wish.
BLENDS: Final[tuple[tuple[str, str, dict[str, Any]], ...]] = (
    (
        of.SPRING,
        "Quick nitrogen and some potash for the first rounds. Demo, invented.",
        {
            "targets": [{"nutrient": "N", "min": 20}, {"nutrient": "K2O", "min": 4}],
            "fill": _FILL,
        },
    ),
    (
        of.HALF,
        "Half the nitrogen slow release, a little potash. Demo, invented.",
        {
            "targets": [{"nutrient": "N", "min": 24}, {"nutrient": "K2O", "min": 3}],
            "slow_release_pct": {"min": 50},
            "fill": _FILL,
        },
    ),
    (
        of.IRON,
        "Colour without much growth. Demo, invented.",
        {
            "targets": [
                {"nutrient": "N", "min": 14},
                {"nutrient": "K2O", "min": 3},
                {"nutrient": "Fe", "min": 0.2},
            ],
            "slow_release_pct": {"min": 30},
            "exclude": ["FEEDTA"],
            "fill": _FILL,
        },
    ),
    (
        of.FALL,
        "Potash before winter, from thiosulfate and acetate. Demo, invented.",
        {
            "targets": [{"nutrient": "N", "min": 14}, {"nutrient": "K2O", "min": 9}],
            "stock_limits": [{"code": "KTHIO25", "min_pct": 10}],
            "fill": _FILL,
        },
    ),
    (
        of.UREA,
        "Low in salt, without nitrate. Demo, invented.",
        {
            "recipe": [{"code": "UREA20", "pct": 60}, {"code": "TRIAZONE28", "pct": 40}],
            "fill": _FILL,
        },
    ),
)

#: Pounds of nitrogen on 1,000 sq ft that a blend is quoted for.
RATE: Final[Mapping[str, float]] = {
    of.SPRING: 0.6,
    of.HALF: 0.7,
    of.IRON: 0.4,
    of.FALL: 0.5,
    of.UREA: 0.6,
    of.BUDGET: 0.7,
    of.SUMMER: 0.7,
    of.HUMIC: 0.5,
}

#: How often a blend is asked for in a month beside the customer's others.
ASKED_IN: Final[Mapping[str, tuple[float, ...]]] = {
    of.SPRING: (1, 2, 4, 4, 3, 1, 0.3, 0.5, 0.5, 0.3, 0.2, 0.5),
    of.BUDGET: (1, 1, 2, 3, 3, 2, 0.5, 1, 2, 1, 0.5, 0.5),
    of.FALL: (0.5, 0.2, 0.3, 0.3, 0.5, 0.5, 1, 3, 5, 4, 3, 1),
}
ALWAYS: Final = (1.0,) * 12
