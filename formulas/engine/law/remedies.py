"""What would fix a finding, typed: each remedy holds the figures its sentence needs.

Figures are as the law has them; whoever words a remedy rounds so that following it keeps the limit.
"""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum

from formulas.engine.law.rules import Ground, Phosphorus


class Nutrient(StrEnum):
    """Of what a rate is."""

    N = "N"
    P2O5 = "P2O5"


@dataclass(frozen=True, slots=True)
class ApplyAtMost:
    """A smaller rate; ``at_a_time`` where the law also limits the year."""

    lb: float
    of: Nutrient = Nutrient.N
    at_a_time: bool = False


@dataclass(frozen=True, slots=True)
class MoreWhenSlow:
    """A larger rate that stands from this slow share on, in these months (empty: all year)."""

    largest_lb: float
    from_slow_pct: float
    months: frozenset[int]


@dataclass(frozen=True, slots=True)
class AsTheTextSays:
    """A way out in the rule's own words."""

    text: str


@dataclass(frozen=True, slots=True)
class RaiseSlowOrApplyLess:
    """More slow release, or a smaller rate; ``as_counted``: only what the law counts as slow."""

    to_pct: float
    as_counted: bool
    at_most_lb: float


@dataclass(frozen=True, slots=True)
class RaiseSlow:
    """More slow release. ``insoluble``: where only a reading of the text is missed, more of the
    same nitrogen would not help. ``or_at_most_lb`` is the rate the law exempts, if any."""

    to_pct: float
    insoluble: bool
    or_at_most_lb: float | None
    professionals_only: bool


@dataclass(frozen=True, slots=True)
class LessOverTheYear:
    lb: float
    of: Nutrient


@dataclass(frozen=True, slots=True)
class KeepPhosphateDown:
    """At most this content (0: none), or one of the reasons of the rule where there are any."""

    to_pct: float
    or_reasons_of: Phosphorus | None = None


@dataclass(frozen=True, slots=True)
class OutsideTheDates:
    """Another day, or at most this rate where the law leaves one (0: none)."""

    or_at_most_lb: float


@dataclass(frozen=True, slots=True)
class WaitForGround:
    met: tuple[Ground, ...]


@dataclass(frozen=True, slots=True)
class KeepFromWater:
    feet: float
    or_targeted_spray: bool


@dataclass(frozen=True, slots=True)
class WaitDays:
    days: float


@dataclass(frozen=True, slots=True)
class PrintTheSentence:
    pass


@dataclass(frozen=True, slots=True)
class ReadTheRules:
    pass


Remedy = (
    ApplyAtMost
    | MoreWhenSlow
    | AsTheTextSays
    | RaiseSlowOrApplyLess
    | RaiseSlow
    | LessOverTheYear
    | KeepPhosphateDown
    | OutsideTheDates
    | WaitForGround
    | KeepFromWater
    | WaitDays
    | PrintTheSentence
    | ReadTheRules
)
