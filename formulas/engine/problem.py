"""What is asked of the engine: stocks, wishes, limits, rules. Frozen values, plain floats.

Shares and contents are percent by weight, densities pounds per US gallon, costs dollars per
pound. Nothing here is clamped: ``validate`` refuses, naming the field.
"""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass, field
from enum import StrEnum
from typing import Final


class Effect(StrEnum):
    """What a compatibility rule does when both of its traits are in one blend."""

    BLOCKS = "blocks"
    LIMIT = "limit"
    JAR_TEST = "jar_test"
    FINE = "fine"


@dataclass(frozen=True, slots=True)
class Stock:
    """A base stock; its density is at 60 F.

    ``analysis`` holds the keys of ``composition.ANALYSIS_KEYS``, ``solutes`` what is dissolved in
    it by key of ``density.solutes.SOLUTES``, the rest being water; none given: not known, and
    the stock mixes ideally.
    """

    code: str
    name: str
    density_lb_per_gal: float
    cost_per_lb: float
    analysis: Mapping[str, float]
    min_pct: float = 0.0
    max_pct: float = 100.0
    traits: frozenset[str] = frozenset()
    scale_step_lb: float = 1.0
    charging_rank: int = 50
    solutes: Mapping[str, float] = field(default_factory=dict)

    @property
    def is_water(self) -> bool:
        """Water carries the trait ``water``; it is not counted by ``most_stocks``."""
        return "water" in self.traits


@dataclass(frozen=True, slots=True)
class CompatibilityRule:
    """What happens when stocks with ``trait_a`` and ``trait_b`` meet in one blend.

    ``limit`` holds the largest share of the ``trait_a`` stocks while any ``trait_b`` stock is
    present: as ``largest_pct`` of the blend, or as ``largest_ratio`` in lb per lb of the
    ``trait_b`` stocks (1.0 means "up to 1:1"). ``name_a`` and ``name_b`` are only for sentences.
    """

    trait_a: str
    trait_b: str
    effect: Effect
    reason: str
    source: str
    largest_pct: float | None = None
    largest_ratio: float | None = None
    name_a: str = ""
    name_b: str = ""

    @property
    def words_a(self) -> str:
        """The first trait as people say it: its name, or its code read as words."""
        return self.name_a or self.trait_a.replace("_", " ")

    @property
    def words_b(self) -> str:
        """The second trait as people say it."""
        return self.name_b or self.trait_b.replace("_", " ")

    @property
    def sentence(self) -> str:
        """The rule in words, for people only."""
        a, b = self.words_a, self.words_b
        if self.effect is Effect.BLOCKS:
            return f"{a} and {b} must not meet"
        if self.largest_ratio is not None:
            return f"{a} at most {self.largest_ratio:.10g} lb per lb of {b}"
        if self.largest_pct is not None:
            return f"{a} at most {self.largest_pct:.10g} % of the blend beside {b}"
        return f"{a} and {b} may meet"


@dataclass(frozen=True, slots=True)
class NutrientWish:
    """Lower and/or upper limit on one nutrient, percent by weight."""

    nutrient: str
    min_pct: float | None = None
    max_pct: float | None = None


@dataclass(frozen=True, slots=True)
class SlowReleaseWish:
    """Limits on the slowly available share, percent of total nitrogen."""

    min_pct: float | None = None
    max_pct: float | None = None


@dataclass(frozen=True, slots=True)
class StockLimit:
    """Limits on the share of one stock, percent by weight of the blend."""

    code: str
    min_pct: float | None = None
    max_pct: float | None = None


#: Costs per gallon are printed to so many places, and a ceiling holds as it is printed.
COST_PLACES: Final = 4


@dataclass(frozen=True, slots=True)
class CostCeiling:
    """The stocks of a gallon of the blend cost at most so much, dollars per US gallon.

    ``gal_per_lb`` is what a linear program takes a pound of each stock to add to the volume, in
    the order of the codes; None: what it has alone (``blend.cost_ceiling`` brings it into line).
    """

    max_per_gal: float
    gal_per_lb: tuple[float, ...] | None = None

    @property
    def largest(self) -> float:
        """The largest cost per gallon that is printed, rounded half up, no higher than it.

        >>> round(CostCeiling(7.12).largest, 6), round(CostCeiling(7.12346).largest, 6)
        (7.120048, 7.123448)
        """
        steps = 10.0**COST_PLACES
        return (math.floor(self.max_per_gal * steps + 1e-6) + 0.48) / steps


@dataclass(frozen=True, slots=True)
class Fill:
    """How much to make: exactly one of the two is given."""

    volume_gal: float | None = None
    mass_lb: float | None = None


class Per(StrEnum):
    """What the cheapest blend is the cheapest for: a pound, a gallon, or a pound of nitrogen."""

    LB = "lb"
    GAL = "gal"
    LB_N = "lb_N"


@dataclass(frozen=True, slots=True)
class BlendProblem:
    """One complete question. ``strongest`` names the nutrient to maximise, else cheapest.

    ``cheapest_per`` says for what; it counts only where nothing is to be strongest.
    """

    stocks: tuple[Stock, ...]
    wishes: tuple[NutrientWish, ...] = ()
    slow_release: SlowReleaseWish | None = None
    stock_limits: tuple[StockLimit, ...] = ()
    exclude: frozenset[str] = frozenset()
    rules: tuple[CompatibilityRule, ...] = ()
    smallest_charge_pct: float = 0.0
    most_stocks: int | None = None
    strongest: str | None = None
    fill: Fill = field(default_factory=lambda: Fill(volume_gal=1.0))
    cheapest_per: Per = Per.LB
    cost_ceiling: CostCeiling | None = None


@dataclass(frozen=True, slots=True)
class FieldError:
    """One refused input; ``field`` is a path in the request such as ``targets.0.min``.

    ``unknown_stock`` is the code that is not known, where that is what is wrong.
    """

    field: str
    message: str
    unknown_stock: str | None = None


class BadProblem(ValueError):
    """The question itself is wrong; carries every field error found."""

    def __init__(self, errors: tuple[FieldError, ...]) -> None:
        self.errors = errors
        super().__init__("; ".join(f"{e.field}: {e.message}" for e in errors))
