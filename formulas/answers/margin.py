"""What a margin did to a blend, as the formulation contract says it under ``margin``."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from decimal import Decimal

from blendshop.snapshot import Snapshot


@dataclass(frozen=True, slots=True, kw_only=True)
class GuaranteeMargin(Snapshot):
    """One guarantee: percentages as in the analysis, chances as fractions."""

    key: str
    guarantee_pct: float
    aim_pct: float
    expected_pct: float
    sigma_pct: float
    allowance_pct: float | None
    chance_below_guarantee: float
    chance_deficient: float


@dataclass(frozen=True, slots=True, kw_only=True)
class MarginKept(Snapshot):
    """The blend keeps its margins; ``cost_per_lb`` is what they add, dollars per lb.

    Chances of a batch, as fractions: any guarantee missed, any missed by more than its
    allowance, the primary nutrients together below the index. None in answers of before, the
    last one also without a guaranteed primary nutrient.
    """

    chance: float
    standard_deviations: float
    guarantees: tuple[GuaranteeMargin, ...]
    cost_per_lb: Decimal
    is_tight: bool
    chance_any_missed: float | None = None
    chance_deficient_any: float | None = None
    chance_index_low: float | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class MarginMissed(Snapshot):
    """No blend keeps the margins; ``reachable_without`` says whether one meets the wish itself."""

    chance: float
    guarantees: tuple[GuaranteeMargin, ...] = ()
    aims_pct: Mapping[str, float]
    reachable_without: bool
