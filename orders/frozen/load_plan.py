"""The plan of one tank load as it was frozen: weighings, what is promised, windows, cautions."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from datetime import date
from decimal import Decimal
from typing import Any, Self

from blendshop.snapshot import Snapshot, stored_as
from formulas.engine.plant.load import ScaleKind


@dataclass(frozen=True, slots=True)
class StockMetal(Snapshot):
    """A heavy metal of a stock in ppm, where the figure stands and when it was analysed."""

    ppm: float
    source: str
    measured_on: date | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class FrozenStock(Snapshot):
    """A base stock's figures of that minute; ``analysis`` in percent by weight.

    The density is at the plan's temperature, ``solutes`` as of the engine's ``Stock`` (empty: not
    known, or planned before there were any).
    """

    code: str
    name: str
    derived_from: str
    other_origin: str
    metals: Mapping[str, StockMetal]
    scale_step_lb: float
    density_lb_per_gal: float
    analysis: Mapping[str, float]
    traits: tuple[str, ...]
    instruction: str
    solutes: Mapping[str, float] = field(default_factory=dict)

    @property
    def is_water(self) -> bool:
        return "water" in self.traits


@dataclass(frozen=True, slots=True, kw_only=True)
class Weighing(FrozenStock):
    """So many pounds of a stock to weigh in; ``weight_lb`` is whole scale steps.

    Any weight within ``tolerance_lb`` of it is on target; None: planned before tolerances.
    """

    weight_lb: float
    volume_gal: float
    tolerance_lb: float | None = None
    scale: ScaleKind = ScaleKind.MAIN

    @classmethod
    def of_stock(cls, stock: FrozenStock, weight_lb: float, **more: Any) -> Self:
        """So many pounds of a stock (or of another weighing of it), with its volume."""
        volume_gal = round(weight_lb / stock.density_lb_per_gal, 4)
        return cls.extending(stock, weight_lb=weight_lb, volume_gal=volume_gal, **more)


@dataclass(frozen=True, slots=True, kw_only=True)
class PlannedLot(Snapshot):
    """A lot a weighing is to come from, with the figures of its certificate that were used."""

    code: str
    weight_lb: float
    density_lb_per_gal: float
    analysis: Mapping[str, float]


@dataclass(frozen=True, slots=True, kw_only=True)
class PlannedWeighing(Weighing):
    """A weighing of the plan itself, with its place in it."""

    running_total_lb: float
    pct: float
    lots: tuple[PlannedLot, ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class PlannedHeel(Snapshot):
    """What was in the tank when the load was planned; it is mixed in and costs nothing.

    ``analysis`` in percent by weight; ``words`` say what it is, ``batches`` whose it is.
    """

    mass_lb: float
    volume_gal: float
    analysis: Mapping[str, float]
    words: str
    batches: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class PlanTank(Snapshot):
    name: str
    capacity_gal: float
    scale_step_lb: float
    fine_step_lb: float | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class LoadPromise(Snapshot):
    """What the customer was promised at least and wanted at most, percent by weight.

    The slow-release limits are percent of total nitrogen; None where there is none.
    """

    minima_pct: Mapping[str, float]
    slow_release_min_pct: float | None
    maxima_pct: Mapping[str, float]
    slow_release_max_pct: float | None


@dataclass(frozen=True, slots=True)
class DensityWindow(Snapshot):
    """What the density should read at ``temperature_f``; ``basis`` says why."""

    low_lb_per_gal: float = field(metadata=stored_as("low"))
    high_lb_per_gal: float = field(metadata=stored_as("high"))
    basis: str
    temperature_f: float


@dataclass(frozen=True, slots=True)
class PhWindow(Snapshot):
    """What the pH should read; both None when it is not known. ``basis`` says why."""

    low_ph: float | None = field(metadata=stored_as("low"))
    high_ph: float | None = field(metadata=stored_as("high"))
    basis: str


@dataclass(frozen=True, slots=True)
class StockSafety(Snapshot):
    """Hazards and protection of a stock by its SDS, a sentence an entry; may be empty."""

    code: str
    name: str
    hazards: tuple[str, ...]
    ppe: tuple[str, ...]
    source: str


@dataclass(frozen=True, slots=True)
class PlanFinding(Snapshot):
    """Something a person must know about the load. ``severity``: info, caution or stop."""

    code: str
    severity: str
    message: str
    source: str


@dataclass(frozen=True, slots=True)
class Cleanout(Snapshot):
    """What was in the tank before (empty: not known) and what to do about it.

    ``flush``: the load cannot be made onto what was in the tank.
    """

    previous_product: str
    instruction: str
    flush: bool = False


@dataclass(frozen=True, slots=True, kw_only=True)
class RoomSaving(Snapshot):
    """What a finer tolerance, or a small scale of so fine a division, would save per gallon."""

    per_gal: Decimal
    tolerance_pct: float | None = None
    small_scale_lb: float | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class LoadPlan(Snapshot):
    """``Batch.plan``. ``analysis`` is expected, percent by weight with total N.

    ``mass_lb``, ``volume_gal`` and ``analysis`` are those of the full tank, ``heel`` included.
    ``least_pct`` is the least of each content over all weights that are on target, and
    ``printed_pct`` the lines a label promises and the load keeps. ``tolerance_pct`` is what the
    plan reached, ``room_cost_per_gal`` what that room costs and ``cost_per_gal`` what all stocks
    weighed in cost, at the costs of that minute; all None in plans of before.
    ``density_correction`` is the density an earlier batch of the product measured over the
    modelled one: the plan's density and volume have it in them, what is figured later takes it.
    """

    product_name: str
    blend_reference: str
    revision_id: int
    grade: str
    tank: PlanTank
    promised: LoadPromise
    steps: tuple[PlannedWeighing, ...]
    mass_lb: float
    volume_gal: float
    analysis: Mapping[str, float]
    slow_release_pct: float | None
    density_lb_per_gal: float
    density_window: DensityWindow
    ph_window: PhWindow
    safety: tuple[StockSafety, ...]
    findings: tuple[PlanFinding, ...]
    jar_test_steps: tuple[str, ...]
    cleanout: Cleanout
    retained_sample: str
    tolerance_pct: float | None = None
    heel: PlannedHeel | None = None
    least_pct: Mapping[str, float] = field(default_factory=dict)
    printed_pct: Mapping[str, Decimal] = field(default_factory=dict)
    room_cost_per_gal: Decimal | None = None
    cost_per_gal: Decimal | None = None
    room_savings: tuple[RoomSaving, ...] = ()
    density_correction: float = 1.0

    @property
    def has_tolerances(self) -> bool:
        """False for a plan of before there were tolerances; it is charged as it stands."""
        return self.tolerance_pct is not None

    @property
    def solutes_pct(self) -> dict[str, float] | None:
        """What is dissolved in the full tank, percent by weight by key; None if not known."""
        if self.heel is not None or not all(step.solutes or step.is_water for step in self.steps):
            return None
        mixed: dict[str, float] = {}
        for step in self.steps:
            for key, pct in step.solutes.items():
                mixed[key] = mixed.get(key, 0.0) + pct * step.weight_lb / self.charged_lb
        return mixed

    @property
    def charged_lb(self) -> float:
        """Pounds to weigh in: the load without its heel."""
        return sum(step.weight_lb for step in self.steps)
