"""What is asked of the law: a product, a rate, a day, and answers to the law's questions."""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass, field
from datetime import date
from typing import Final

from formulas.engine.composition import NITROGEN_FORMS, content_pct, slow_n_pct
from formulas.engine.law.rules import Ground
from formulas.engine.problem import BadProblem, FieldError
from formulas.engine.units import content_lb, product_lb_per_lb

#: Grasses that the annual limits tell apart.
GRASSES: Final = (
    "bahiagrass",
    "bermudagrass",
    "centipedegrass",
    "st_augustinegrass",
    "zoysiagrass",
    "tall_fescue",
    "kentucky_bluegrass",
    "fine_fescue",
)
COOL_SEASON: Final = frozenset({"tall_fescue", "kentucky_bluegrass", "fine_fescue"})


def grass_name(grass: str) -> str:
    """A grass as it is read: ``st_augustinegrass`` is "St. Augustinegrass"."""
    words = grass.replace("_", " ")
    return words.replace("st ", "St. ", 1) if words.startswith("st ") else words


@dataclass(frozen=True, slots=True)
class Circumstances:
    """Answers to the questions the rules ask; None means "not answered", never "no"."""

    professional: bool | None = None
    soil_test_shows_p_need: bool | None = None
    soil_test_age_months: float | None = None
    new_lawn: bool | None = None
    repair: bool | None = None
    trained_golf: bool | None = None
    days_since_seeding: float | None = None
    grass: str | None = None
    targeted_spray: bool | None = None
    distance_to_water_ft: float | None = None
    natural_buffer_ft: float | None = None
    enhanced_efficiency: bool | None = None
    frozen_or_snow: bool | None = None
    saturated: bool | None = None
    heavy_rain_expected: bool | None = None
    storm_warning: bool | None = None
    n_earlier_this_year_lb: float | None = None
    p2o5_earlier_this_year_lb: float | None = None

    def ground(self, ground: Ground) -> bool | None:
        """The answer for one condition of the ground or weather."""
        answer: bool | None = getattr(self, ground.value)
        return answer


@dataclass(frozen=True, slots=True)
class Application:
    """One application of a liquid: pounds of product per 1,000 sq ft on a day.

    ``analysis`` holds the keys of ``composition.ANALYSIS_KEYS``. ``label_text`` is the text of
    the label draft, for sentences that it must carry. Raises ``BadProblem`` for a rate that is
    negative or not finite, and for an unknown grass.
    """

    analysis: Mapping[str, float]
    product_lb_per_1000sqft: float
    on: date | None = None
    circumstances: Circumstances = field(default_factory=Circumstances)
    label_text: str | None = None

    def __post_init__(self) -> None:
        rate = self.product_lb_per_1000sqft
        if not (math.isfinite(rate) and rate >= 0):
            message = "must be a number of pounds, 0 or more"
            raise BadProblem((FieldError("product_lb_per_1000sqft", message),))
        grass = self.circumstances.grass
        if grass is not None and grass not in GRASSES:
            message = f"is not one of {', '.join(GRASSES)}"
            raise BadProblem((FieldError("circumstances.grass", message),))

    @property
    def total_n_lb(self) -> float:
        """Total nitrogen, lb per 1,000 sq ft."""
        return content_lb(self.product_lb_per_1000sqft, content_pct(self.analysis, "N"))

    @property
    def p2o5_lb(self) -> float:
        """Available phosphate, lb P2O5 per 1,000 sq ft."""
        return content_lb(self.product_lb_per_1000sqft, self.p2o5_pct)

    @property
    def p2o5_pct(self) -> float:
        """Available phosphate, percent by weight."""
        return content_pct(self.analysis, "P2O5")

    @property
    def slow_pct(self) -> float:
        """All slowly available nitrogen, percent of total nitrogen; 0 without nitrogen."""
        return self._of_n(slow_n_pct(self.analysis))

    @property
    def insoluble_pct(self) -> float:
        """Water-insoluble nitrogen alone, percent of total nitrogen."""
        return self._of_n(content_pct(self.analysis, "N.insoluble"))

    @property
    def nutrients(self) -> frozenset[str]:
        """Which of N and P2O5 the product brings."""
        return frozenset(key for key in ("N", "P2O5") if content_pct(self.analysis, key) > 0)

    def _of_n(self, part_pct: float) -> float:
        total = content_pct(self.analysis, "N")
        return 100.0 * part_pct / total if total > 0 else 0.0


def at_n_rate(
    analysis: Mapping[str, float],
    n_rate_lb_per_1000sqft: float,
    on: date | None = None,
    circumstances: Circumstances | None = None,
    label_text: str | None = None,
) -> Application:
    """The application that brings this much nitrogen; the product must hold nitrogen."""
    total = sum(content_pct(analysis, form) for form in NITROGEN_FORMS)
    if total <= 0:
        raise BadProblem((FieldError("analysis", "holds no nitrogen to set a rate by"),))
    return Application(
        analysis,
        n_rate_lb_per_1000sqft * product_lb_per_lb(total),
        on,
        circumstances or Circumstances(),
        label_text,
    )
