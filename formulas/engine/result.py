"""What the engine answers. Percent by weight, pounds, US gallons, dollars per pound."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from enum import StrEnum

from formulas.engine.wishes import WishId


class Severity(StrEnum):
    """How much a finding matters; ``formulas.wording`` has its word."""

    INFO = "info"
    CAUTION = "caution"
    STOP = "stop"


@dataclass(frozen=True, slots=True)
class Finding:
    """Something a person must know about a blend."""

    code: str
    severity: Severity
    message: str
    source: str


@dataclass(frozen=True, slots=True)
class Sensitivity:
    """What one more unit of a wish costs, dollars per lb of blend (a row dual)."""

    wish: WishId
    cost_per_unit: float


@dataclass(frozen=True, slots=True)
class Share:
    """A stock's share of the blend, percent by weight."""

    code: str
    pct: float


@dataclass(frozen=True, slots=True)
class Blend:
    """A recipe and everything that follows from it. ``shares`` follow the stock order."""

    shares: tuple[Share, ...]
    analysis: Mapping[str, float]
    slow_release_pct: float | None
    density_lb_per_gal: float
    cost_per_lb: float
    findings: tuple[Finding, ...] = ()


@dataclass(frozen=True, slots=True)
class Solved:
    """A blend that meets every wish at least cost (or greatest strength)."""

    blend: Blend
    sensitivities: tuple[Sensitivity, ...] = ()


@dataclass(frozen=True, slots=True)
class Reach:
    """How far one wish could go while all others hold; None if the others already conflict."""

    wish: WishId
    asked: float
    best: float | None


@dataclass(frozen=True, slots=True)
class Relaxed:
    """One wish moved to a value that can be had."""

    wish: WishId
    to: float


@dataclass(frozen=True, slots=True)
class Alternative:
    """A nearby blend that can be made, and what it gives up."""

    relaxed: tuple[Relaxed, ...]
    blend: Blend


@dataclass(frozen=True, slots=True)
class OutOfReach:
    """No blend meets every wish: why, how far each could go, and what instead.

    ``is_explained`` is False where the reasons would take more work than they may: that there is
    no blend is known, why is not.
    """

    conflict: tuple[WishId, ...]
    reach: tuple[Reach, ...]
    alternatives: tuple[Alternative, ...]
    is_explained: bool = True


class EngineFailure(RuntimeError):
    """The solver gave no trustworthy answer; never shown as a blend."""
