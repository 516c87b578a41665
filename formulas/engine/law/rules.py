"""The kinds of rules a state or locality sets for lawn fertilizer, as frozen values.

Rates are pounds per 1,000 sq ft, shares percent of total nitrogen, contents percent by weight,
distances feet. A rule carries the text it stands in: figures nobody could read in the law's own
text are ``Status.UNVERIFIED`` and say so wherever they are used.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from datetime import date
from enum import StrEnum
from typing import Final

from formulas.engine.mark import Mark

#: P2O5 holds this share of phosphorus by weight: 2 x 30.974 / 141.945 (IUPAC atomic masses).
P_PER_P2O5: Final = 0.43642


class Status(StrEnum):
    """Whether the figure was read in the law's own text."""

    ACTIVE = "active"
    UNVERIFIED = "unverified"


class Evidence(StrEnum):
    """Where the figure was read. Only ``CODE_TEXT`` can make a rule active."""

    CODE_TEXT = "code text"
    CODE_TEXT_CUT = "code text, cut off"
    SECONDARY = "secondary text"
    MEMORY = Mark.FROM_MEMORY.value


class Applicator(StrEnum):
    """Whom a rule binds."""

    ANYONE = "anyone"
    PROFESSIONAL = "professional"
    OTHERS = "others"


class SolubleSlow(StrEnum):
    """Whether water-soluble slowly available nitrogen counts as slow release in this law."""

    COUNTS = "counts"
    DOES_NOT_COUNT = "does not count"
    UNSETTLED = "unsettled"


class Ground(StrEnum):
    """Conditions on the ground that a rule can forbid."""

    FROZEN_OR_SNOW = "frozen_or_snow"
    SATURATED = "saturated"
    HEAVY_RAIN = "heavy_rain_expected"
    STORM_WARNING = "storm_warning"


class Topic(StrEnum):
    """What a rule is about; the stricter of two rules is sought within one topic."""

    TOTAL_N = "total nitrogen per application"
    READILY_AVAILABLE_N = "readily available nitrogen per application"
    ANNUAL_N = "nitrogen per year"
    SLOW_SHARE = "slow-release share"
    PHOSPHORUS = "phosphorus"
    P2O5_RATE = "phosphate per application"
    ANNUAL_P2O5 = "phosphate per year"
    BLACKOUT = "dates"
    GROUND = "ground and weather"
    SETBACK = "distance from water"
    ESTABLISHMENT = "time after seeding or sodding"
    LABEL_SENTENCE = "required label sentence"
    NO_PACK = "no rule pack"


class DutyTopic(StrEnum):
    """What the law asks of the plant or applicator beyond the application itself."""

    CUSTOM_LABEL = "custom product label"
    BULK = "bulk or packaged"
    REGISTRATION = "registration"
    TONNAGE = "tonnage report"
    RECORDS = "records to keep"
    CONDUCT = "conduct"
    SALE = "sale"


@dataclass(frozen=True, slots=True)
class Basis:
    """Where a rule stands. ``text_as_of`` is the age of the copy read, empty if unknown.

    ``url`` is where the text can be read today, not always the copy that was read on
    ``date_checked``.
    """

    code: str
    jurisdiction: str
    citation: str
    url: str
    status: Status
    evidence: Evidence
    date_checked: date
    text_as_of: str
    check_with: str
    note: str = ""
    applicator: Applicator = Applicator.ANYONE


@dataclass(frozen=True, slots=True)
class SlowStep:
    """From this slow share on, in these months (empty: all year), a larger total rate holds."""

    from_slow_pct: float
    largest_total_lb: float
    months: frozenset[int] = frozenset()


@dataclass(frozen=True, slots=True)
class NitrogenPerApplication:
    """Largest total and largest readily available nitrogen, lb per 1,000 sq ft at a time."""

    basis: Basis
    soluble_slow: SolubleSlow
    largest_total_lb: float | None = None
    largest_readily_available_lb: float | None = None
    steps: tuple[SlowStep, ...] = ()
    grass: frozenset[str] = frozenset()
    enhanced_efficiency: str = ""


@dataclass(frozen=True, slots=True)
class NitrogenPerYear:
    """Largest nitrogen in a calendar year, lb per 1,000 sq ft; by grass where the law does."""

    basis: Basis
    largest_lb: float | None = None
    by_grass: tuple[tuple[str, float], ...] = ()


@dataclass(frozen=True, slots=True)
class SlowShare:
    """Smallest slow-release share, percent of total nitrogen.

    ``exempt_up_to_n_lb`` frees low rates for ``exempt_applicator``. ``certain_above_n_lb``: at
    or below this rate the text can be read either way. ``liquid_exempt_*``: a liquid whose
    rates stay within both figures is exempt.
    """

    basis: Basis
    smallest_pct: float
    soluble_slow: SolubleSlow
    exempt_up_to_n_lb: float | None = None
    exempt_applicator: Applicator = Applicator.ANYONE
    certain_above_n_lb: float | None = None
    liquid_exempt_total_lb: float | None = None
    liquid_exempt_readily_available_lb: float | None = None


@dataclass(frozen=True, slots=True)
class Phosphorus:
    """When phosphate may be applied, and how much (P2O5 pounds per 1,000 sq ft).

    A product with at most ``free_up_to_p2o5_pct`` is not touched. Without ``needs_reason`` any
    product may go, within the rates. ``soil_test_years`` 0 means a test of any age.
    """

    basis: Basis
    free_up_to_p2o5_pct: float = 0.0
    needs_reason: bool = True
    soil_test: bool = False
    soil_test_years: float = 0.0
    new_lawn: bool = False
    repair: bool = False
    trained_golf: bool = False
    largest_p2o5_pct: float | None = None
    largest_p2o5_lb: float | None = None
    largest_p2o5_lb_per_year: float | None = None
    starter_p2o5_lb: float | None = None
    other_exceptions: str = ""


@dataclass(frozen=True, slots=True)
class Blackout:
    """No nitrogen and/or phosphorus from ``first`` to ``last`` (month, day), both included.

    ``first`` after ``last`` crosses the year's end. ``largest_n_lb`` above 0 is what remains
    allowed in the window.
    """

    basis: Basis
    first: tuple[int, int]
    last: tuple[int, int]
    nutrients: frozenset[str] = frozenset({"N", "P2O5"})
    largest_n_lb: float = 0.0
    new_lawn_exempt: bool = False


@dataclass(frozen=True, slots=True)
class GroundRule:
    """Not on ground, or in weather, of these kinds; ``nutrients`` as in ``Blackout``."""

    basis: Basis
    forbidden: tuple[Ground, ...]
    nutrients: frozenset[str] = frozenset({"N", "P2O5"})


@dataclass(frozen=True, slots=True)
class Setback:
    """Smallest distance from water, feet. ``targeted_feet``: with a targeted liquid spray."""

    basis: Basis
    feet: float
    targeted_feet: float | None = None
    natural_buffer_feet: float | None = None
    new_lawn_exempt: bool = False
    nutrients: frozenset[str] = frozenset({"N", "P2O5"})


@dataclass(frozen=True, slots=True)
class EstablishmentWait:
    """No nitrogen or phosphorus for this many days after seeding or sodding."""

    basis: Basis
    days: float


@dataclass(frozen=True, slots=True)
class LabelSentence:
    """A sentence the label of a lawn product must carry, word for word."""

    basis: Basis
    sentence: str


Rule = (
    NitrogenPerApplication
    | NitrogenPerYear
    | SlowShare
    | Phosphorus
    | Blackout
    | GroundRule
    | Setback
    | EstablishmentWait
    | LabelSentence
)


@dataclass(frozen=True, slots=True)
class Duty:
    """What the law asks of the plant or the applicator, in words."""

    basis: Basis
    topic: DutyTopic
    text: str


@dataclass(frozen=True, slots=True)
class RulePack:
    """The rules of one jurisdiction. ``county`` and ``place`` are empty for a state.

    A pack is active when at least one of its rules or duties is.
    """

    code: str
    jurisdiction: str
    state: str
    county: str
    place: str
    status: Status
    citation: str
    url: str
    date_checked: date
    text_as_of: str
    check_with: str
    note: str
    rules: tuple[Rule, ...] = field(default=())
    duties: tuple[Duty, ...] = field(default=())

    @property
    def is_local(self) -> bool:
        """Whether a county or place set these rules, not the state."""
        return bool(self.county or self.place)
