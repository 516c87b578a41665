"""A wish as the formulation contract takes it: the body of a request, and what a blend saves.

Percent by weight, US gallons, pounds. ``stocks`` and ``rules`` are no wishes and stand beside it
in a request only.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass, field
from typing import Any, ClassVar, Final

from blendshop.snapshot import Snapshot
from formulas.engine.problem import Per

CHEAPEST: Final = "cheapest"


@dataclass(frozen=True, slots=True)
class Range(Snapshot):
    """Limits in percent; of the slow-release share, percent of total nitrogen."""

    OMITTED = frozenset({"min", "max"})

    min: float | None = None
    max: float | None = None


@dataclass(frozen=True, slots=True)
class Target(Snapshot):
    """Limits on one nutrient, percent by weight."""

    OMITTED = frozenset({"min", "max"})

    nutrient: str
    min: float | None = None
    max: float | None = None

    @property
    def range(self) -> Range:
        """The limits alone."""
        return Range(self.min, self.max)


@dataclass(frozen=True, slots=True)
class StockLimit(Snapshot):
    """Limits on the share of one stock, percent by weight of the blend."""

    OMITTED = frozenset({"min_pct", "max_pct"})

    code: str
    min_pct: float | None = None
    max_pct: float | None = None


@dataclass(frozen=True, slots=True)
class CostPerGal(Snapshot):
    """The most that the stocks of a gallon may cost, dollars.

    ``price`` and ``price_per`` keep from which selling price it was worked out, if from one.
    """

    OMITTED = frozenset({"price", "price_per"})

    max: float
    price: float | None = None
    price_per: str | None = None


@dataclass(frozen=True, slots=True)
class FixedShare(Snapshot):
    """A stock whose share is given, percent by weight."""

    code: str
    pct: float


@dataclass(frozen=True, slots=True)
class Objective(Snapshot):
    """One of the two: as much of a nutrient as can be, or least cost per gal, lb or lb of N."""

    OMITTED = frozenset({"strongest", "cheapest_per"})

    strongest: str | None = None
    cheapest_per: Per | None = None


@dataclass(frozen=True, slots=True)
class Fill(Snapshot):
    """How much to make: one of the two."""

    OMITTED = frozenset({"volume_gal", "mass_lb"})

    volume_gal: float | None = None
    mass_lb: float | None = None


@dataclass(frozen=True, slots=True)
class AssaySpread(Snapshot):
    """Relative standard deviations of a stock's assay, percent: of all contents, or of one."""

    OMITTED = frozenset({"strength_rsd_pct", "content_rsd_pct"})

    strength_rsd_pct: float | None = None
    content_rsd_pct: Mapping[str, float] = field(default_factory=dict)


@dataclass(frozen=True, slots=True)
class ScaleSpread(Snapshot):
    """Standard deviation of a weighing."""

    OMITTED = frozenset({"absolute_lb", "relative_pct"})

    absolute_lb: float | None = None
    relative_pct: float | None = None


@dataclass(frozen=True, slots=True)
class MarginWish(Snapshot):
    """The largest chance (a fraction) of missing a guarantee, and the plant's spreads."""

    OMITTED = frozenset({"usual_assay", "assay", "scale"})

    chance: float
    usual_assay: AssaySpread | None = None
    assay: Mapping[str, AssaySpread] = field(default_factory=dict)
    scale: ScaleSpread | None = None


def _without_nulls(value: Any) -> Any:
    if isinstance(value, Mapping):
        return {key: _without_nulls(part) for key, part in value.items() if part is not None}
    if isinstance(value, list | tuple):
        return [_without_nulls(part) for part in value]
    return value


def _from_version_1(body: Mapping[str, Any]) -> Mapping[str, Any]:
    """Version 1 is a request as it was sent: null stands for nothing, 6.0 for the number 6."""
    wish: dict[str, Any] = _without_nulls(body)
    if "most_stocks" in wish:
        wish["most_stocks"] = int(wish["most_stocks"])
    return wish


@dataclass(frozen=True, slots=True, kw_only=True)
class Wish(Snapshot):
    """Everything that may be asked of a blend."""

    VERSION = 2
    UPGRADES: ClassVar[Mapping[int, Callable[[Mapping[str, Any]], Mapping[str, Any]]]] = {
        1: _from_version_1
    }
    OMITTED = frozenset(
        {
            "targets",
            "slow_release_pct",
            "stock_limits",
            "recipe",
            "exclude",
            "smallest_charge_pct",
            "most_stocks",
            "cost_per_gal",
            "objective",
            "fill",
            "margin",
        }
    )

    targets: tuple[Target, ...] = ()
    slow_release_pct: Range | None = None
    stock_limits: tuple[StockLimit, ...] = ()
    recipe: tuple[FixedShare, ...] = ()
    exclude: tuple[str, ...] = ()
    smallest_charge_pct: float | None = None
    most_stocks: int | None = None
    cost_per_gal: CostPerGal | None = None
    objective: str | Objective | None = None
    fill: Fill | None = None
    margin: MarginWish | None = None

    @property
    def asks_beside_recipe(self) -> bool:
        """Whether anything but a recipe is asked; a recipe alone is only evaluated."""
        return bool(
            self.targets
            or self.slow_release_pct
            or self.stock_limits
            or self.exclude
            or self.smallest_charge_pct
            or self.most_stocks
            or self.cost_per_gal
            or self.margin
            or self.objective not in {None, CHEAPEST}
        )

    @property
    def strongest(self) -> str | None:
        """The nutrient to have as much as possible of; None if the cheapest is asked for."""
        return self.objective.strongest if isinstance(self.objective, Objective) else None

    @property
    def cheapest_per(self) -> Per:
        """What the cheapest blend is the cheapest for."""
        asked = self.objective.cheapest_per if isinstance(self.objective, Objective) else None
        return asked or Per.LB
