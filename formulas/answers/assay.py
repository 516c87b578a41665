"""The answer of an assay check: verdicts on a laboratory's findings, percent by weight."""

from __future__ import annotations

from dataclasses import dataclass

from blendshop.snapshot import Snapshot
from formulas.engine.label.assay_check import Verdict


@dataclass(frozen=True, slots=True, kw_only=True)
class CheckedNutrient(Snapshot):
    """One guarantee; ``found`` None only for a guarantee of zero, ``floor`` less the allowance."""

    key: str
    guaranteed: float
    found: float | None
    allowance: float | None
    floor: float
    verdict: Verdict
    source: str
    verified: bool
    note: str


@dataclass(frozen=True, slots=True, kw_only=True)
class AssayAnswer(Snapshot):
    """All nutrients and the overall index, which is None without a primary nutrient."""

    nutrients: tuple[CheckedNutrient, ...]
    index_value_pct: float | None
    index_floor_pct: float
    index_verdict: Verdict | None
    index_source: str
    index_note: str
    rule: str
    rule_name: str
    deficient: bool
    caution: str
