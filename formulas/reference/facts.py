"""The shapes of the reference facts. Percent by weight, pounds per US gallon, degrees F."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from decimal import Decimal
from enum import StrEnum

from formulas.engine.mark import Mark
from formulas.engine.problem import Effect


class CostUnit(StrEnum):
    """What a cost is stated for; a ton is 2,000 lb."""

    TON = "ton"
    LB = "lb"
    GAL = "gal"

    @property
    def label(self) -> str:
        return "per ton (2,000 lb)" if self is CostUnit.TON else f"per {self.value}"


@dataclass(frozen=True, slots=True)
class Source:
    """Where one figure comes from and what is doubtful about it."""

    mark: Mark
    text: str
    note: str = ""


@dataclass(frozen=True, slots=True)
class Solute:
    """One dissolved substance; ``pct`` by weight of the solution."""

    formula: str
    pct: float
    source: Source


@dataclass(frozen=True, slots=True)
class BaseStockFacts:
    """Typical facts of one generic base stock.

    ``figure_sources`` has an entry for every figure: ``density_lb_per_gal``, ``ph``,
    ``salt_out_f``, ``salt_index_per_unit``, ``hazards``, ``ppe``, ``charging_rank``,
    ``min_pct``, ``max_pct``, ``scale_step_lb`` and ``analysis.<key>``. A figure that nobody
    published is None, never zero. ``salt_index_per_unit`` is per percent of the sum of the
    nutrients ``salt_index_per`` in the stock (sodium nitrate = 100). ``other_origin`` is what its
    ingredients that are no plant nutrient come from, with a source under that name; empty where
    there are none.
    """

    code: str
    name: str
    derived_from: tuple[str, ...]
    other_origin: str
    traits: frozenset[str]
    analysis: Mapping[str, float]
    density_lb_per_gal: float
    density_at_f: float
    ph_low: float | None
    ph_high: float | None
    salt_out_f: float | None
    salt_out_note: str
    salt_index_per_unit: float | None
    salt_index_per: tuple[str, ...]
    hazards: str
    ppe: str
    charging_rank: int
    min_pct: float
    max_pct: float
    scale_step_lb: float
    made_of: tuple[Solute, ...]
    note: str
    figure_sources: Mapping[str, Source]


@dataclass(frozen=True, slots=True)
class TraitFacts:
    """What a stock can bring into a tank."""

    code: str
    name: str
    description: str


@dataclass(frozen=True, slots=True)
class CompatibilityFacts:
    """One rule between two traits; see ``problem.CompatibilityRule`` for its meaning."""

    trait_a: str
    trait_b: str
    effect: Effect
    reason: str
    source: Source
    largest_pct: float | None = None
    largest_ratio: float | None = None


@dataclass(frozen=True, slots=True)
class JarTestStep:
    """One step; ``wait_hours`` counts from the end of mixing, 0 for "at once"."""

    text: str
    wait_hours: float
    source: Source


@dataclass(frozen=True, slots=True)
class JarTest:
    """The procedure behind every ``jar_test`` rule."""

    title: str
    caution: str
    caution_source: Source
    steps: tuple[JarTestStep, ...]


@dataclass(frozen=True, slots=True)
class InspectionFee:
    """A state's fee, dollars per ton of 2,000 lb; ``minimum`` is per report."""

    state: str
    fee_per_ton: Decimal
    minimum: Decimal | None
    source: Source


@dataclass(frozen=True, slots=True)
class DemoCost:
    """An invented cost of one stock, dollars per ``per``."""

    stock: str
    cost: Decimal
    per: CostUnit
    source: Source
