"""How far a laboratory may find less than the guarantee: the shapes of the published rules.

Percent by weight; an allowance is in percentage points of the product. The figures themselves
come from ``formulas.reference.allowance_rules``.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from itertools import pairwise


@dataclass(frozen=True, slots=True)
class Grid:
    """Allowances at listed guarantees, ascending: straight lines between, flat beyond the ends.

    Above ``up_to_pct`` the rule gives none.
    """

    points: tuple[tuple[float, float], ...]
    up_to_pct: float = 100.0

    def at(self, guarantee_pct: float) -> float | None:
        """The allowance at a guarantee."""
        if guarantee_pct > self.up_to_pct:
            return None
        if guarantee_pct <= self.points[0][0]:
            return self.points[0][1]
        for (low, at_low), (high, at_high) in pairwise(self.points):
            if guarantee_pct <= high:
                part = (guarantee_pct - low) / (high - low)
                return at_low * (1 - part) + at_high * part
        return self.points[-1][1]


@dataclass(frozen=True, slots=True)
class UnitsAndShare:
    """``units`` plus ``share_pct`` percent of the guarantee, capped by units and by share."""

    units: float
    share_pct: float
    most_units: float = 100.0
    most_share_pct: float = 100.0

    def at(self, guarantee_pct: float) -> float:
        """The allowance at a guarantee."""
        return min(
            self.units + self.share_pct / 100 * guarantee_pct,
            self.most_units,
            self.most_share_pct / 100 * guarantee_pct,
        )


@dataclass(frozen=True, slots=True)
class Allowance:
    """One nutrient's allowance and where it stands; ``verified``: read in that text."""

    curve: Grid | UnitsAndShare
    source: str
    verified: bool
    note: str = ""


@dataclass(frozen=True, slots=True)
class Offset:
    """An overage makes up for the one short primary nutrient, up to share and units of it."""

    share_pct: float
    most_units: float


@dataclass(frozen=True, slots=True)
class AllowanceRule:
    """A jurisdiction's test of an assay: allowances by key and the floor of the overall index.

    ``index_weights`` weigh the primary nutrients in the index; plain sums are all 1.
    """

    code: str
    name: str
    allowances: Mapping[str, Allowance]
    index_floor_pct: float
    index_source: str
    index_note: str = ""
    offset: Offset | None = None
    index_weights: Mapping[str, float] = field(
        default_factory=lambda: {"N": 1.0, "P2O5": 1.0, "K2O": 1.0}
    )


def allowance_pct(key: str, guarantee_pct: float, rule: AllowanceRule) -> float | None:
    """Percentage points that may be missing of a guarantee; None where the rule gives none.

    No allowance of a published formula exceeds the guarantee itself.
    """
    allowance = rule.allowances.get(key)
    if allowance is None or guarantee_pct <= 0:
        return None
    at = allowance.curve.at(guarantee_pct)
    return None if at is None else min(at, guarantee_pct)
