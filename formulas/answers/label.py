"""The answer of a label draft: one typed value for page, API, command and load plan.

Contents in percent by weight, net contents by unit. Its JSON is its serialisation
(``contract_json``): same names, same order.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

from blendshop.snapshot import Snapshot
from formulas.answers.answer import Notice
from formulas.engine.label.metals import MetalVerdict


@dataclass(frozen=True, slots=True, kw_only=True)
class GuaranteedLine(Snapshot):
    """One line of the guaranteed analysis; ``printed`` is ``pct`` in the label's own digits."""

    key: str
    label: str
    pct: float
    printed: str
    parent: str | None


@dataclass(frozen=True, slots=True, kw_only=True)
class OtherIngredientLine(Snapshot):
    """An ingredient that is no plant food, with what it comes from."""

    key: str
    label: str
    pct: float
    printed: str
    sources: tuple[str, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class NotClaimed(Snapshot):
    """A content that may not be guaranteed, with the rule."""

    key: str
    pct: float
    rule: str
    source: str


@dataclass(frozen=True, slots=True, kw_only=True)
class SourcedText(Snapshot):
    """Words a label has to carry, and where they are from."""

    text: str
    source: str


@dataclass(frozen=True, slots=True, kw_only=True)
class NearGuarantee(Snapshot):
    """How much more of a content would print another guarantee."""

    key: str
    more_pct: float
    message: str


@dataclass(frozen=True, slots=True, kw_only=True)
class ChangedLine(Snapshot):
    """A line a reviewer lowered; ``to_pct`` None: dropped."""

    key: str
    label: str
    from_pct: float
    to_pct: float | None
    reason: str


@dataclass(frozen=True, slots=True, kw_only=True)
class LabelAnswer(Snapshot):
    """The lines of a draft; ``net_printed`` is ``net`` rounded down as the label prints it."""

    grade: str | None
    guarantees: tuple[GuaranteedLine, ...]
    slow_release_statement: str | None
    slow_release_pct: float | None
    derived_from: tuple[str, ...]
    other_ingredients: tuple[OtherIngredientLine, ...]
    not_claimed: tuple[NotClaimed, ...]
    net: Mapping[str, float]
    net_printed: Mapping[str, str]
    stabilized_nitrogen_statement: SourcedText | None
    metals_statement: SourcedText | None
    hints: tuple[NearGuarantee, ...]
    cautions: tuple[Notice, ...]
    notes: tuple[Notice, ...]
    changes: tuple[ChangedLine, ...]
    text: str
    caution: str


@dataclass(frozen=True, slots=True, kw_only=True)
class MetalInPpm(Snapshot):
    """A metal against one rule's limit; ``found_ppm`` None: no figure, so never a pass."""

    rule: str
    metal: str
    name: str
    found_ppm: float | None
    limit_ppm: float | None
    verdict: MetalVerdict
    source: str
    verified: bool
    note: str


@dataclass(frozen=True, slots=True, kw_only=True)
class MetalPerYear(Snapshot):
    """A metal's yearly load against one rule's limit."""

    rule: str
    metal: str
    name: str
    found_lb_per_acre_year: float | None
    limit_lb_per_acre_year: float | None
    verdict: MetalVerdict
    source: str
    verified: bool
    note: str


@dataclass(frozen=True, slots=True, kw_only=True)
class ScreenedLabelAnswer(LabelAnswer):
    """A draft with its metals; ``metals_yearly`` None where no yearly amount was given."""

    metals: tuple[MetalInPpm, ...]
    metals_yearly: tuple[MetalPerYear, ...] | None
