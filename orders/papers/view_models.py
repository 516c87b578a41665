"""What each paper prints: frozen values, no ORM, no clock.

Quantities are floats with their unit in the name, money and guarantees are Decimals printed with
exactly the digits they carry. Each view model refuses contradictions when it is made (a total
that is not the sum of its lines, a weight the scale cannot show), because a paper that
disagrees with itself must not leave the plant. ``to_json``/``from_json`` store and restore it.
"""

from __future__ import annotations

import datetime as dt
import math
from dataclasses import dataclass

from blendshop.snapshot import Snapshot
from formulas.engine.result import Severity
from orders.records.letterhead import Plant


@dataclass(frozen=True, slots=True)
class PaperFinding(Snapshot):
    """Something the reader must know: a caution, a compatibility finding, its source."""

    severity: Severity
    message: str
    source: str = ""


@dataclass(frozen=True, slots=True)
class AnalysisFigure(Snapshot):
    """One content of a blend; ``label`` is the printed name ("P2O5" gets its subscripts)."""

    label: str
    pct: float


# ---------------------------------------------------------------------------------- quote


# --------------------------------------------------------------------------- batch ticket


@dataclass(frozen=True, slots=True)
class TicketLot(Snapshot):
    """A lot to weigh from; ``differs`` lists its figures that are not the stock's typical ones."""

    code: str
    weight_lb: float
    differs: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class ChargeStep(Snapshot):
    """One weighing, in charging order. ``weight_lb`` is a whole number of scale steps.

    Any weight within ``tolerance_lb`` is on target; None on tickets of before there were
    tolerances. ``scale`` names the scale where the tank has two.
    """

    stock_code: str
    stock_name: str
    weight_lb: float
    running_total_lb: float
    scale_step_lb: float
    volume_gal: float | None = None
    instruction: str = ""
    tolerance_lb: float | None = None
    scale: str = ""
    lots: tuple[TicketLot, ...] = ()

    def __post_init__(self) -> None:
        if not (math.isfinite(self.scale_step_lb) and self.scale_step_lb > 0):
            raise ValueError(f"Scale step of {self.stock_code} must be above 0.")
        steps = self.weight_lb / self.scale_step_lb
        if not math.isfinite(steps) or steps < 0 or abs(steps - round(steps)) > 1e-6:
            raise ValueError(
                f"{self.stock_code}: {self.weight_lb} lb is not a whole number of"
                f" {self.scale_step_lb} lb scale steps."
            )


@dataclass(frozen=True, slots=True)
class StockSafety(Snapshot):
    """Hazards and protective equipment of one stock on the ticket; the SDS always decides."""

    stock_code: str
    stock_name: str
    hazards: tuple[str, ...]
    ppe: tuple[str, ...]
    source: str = ""


@dataclass(frozen=True, slots=True)
class LoadPartLine(Snapshot):
    """What one order has of a load; ``filling`` in words, such as "2 × 265 gal totes"."""

    customer_name: str
    order_number: str
    filling: str
    volume_gal: float


@dataclass(frozen=True, slots=True)
class BatchTicketView(Snapshot):
    """A batch ticket: one tank load. It has no price in any field, so none can be printed."""

    plant: Plant
    number: str
    page_url: str  # the batch's own page, as QR and text
    planned_on: dt.date
    product_name: str
    blend_reference: str
    grade: str
    parts: tuple[LoadPartLine, ...]
    tank_name: str
    target_volume_gal: float
    target_mass_lb: float
    steps: tuple[ChargeStep, ...]
    safety: tuple[StockSafety, ...] = ()
    findings: tuple[PaperFinding, ...] = ()
    jar_test_steps: tuple[str, ...] = ()  # a jar-test box is printed when there are any
    previous_product: str = ""  # what was in the tank before; empty: not known
    cleanout_instruction: str = ""
    density_low_lb_per_gal: float | None = None
    density_high_lb_per_gal: float | None = None
    density_temperature_f: float = 68.0
    ph_low: float | None = None
    ph_high: float | None = None
    expected_appearance: str = ""
    retained_sample: str = ""  # what to keep and for how long
    notes: str = ""
    on_target: str = ""  # what the figure behind ± means
    heel_mass_lb: float = 0.0  # of the target, in the tank already
    due_on: dt.date | None = None  # the earliest of its orders; None on tickets of before

    def __post_init__(self) -> None:
        if not self.steps or not self.parts:
            raise ValueError("A batch ticket needs at least one weighing and one order.")
        running = 0.0
        for step in self.steps:
            running += step.weight_lb
            if abs(running - step.running_total_lb) > 1e-6 * max(1.0, running):
                raise ValueError(
                    f"Running total after {step.stock_code} is {step.running_total_lb} lb,"
                    f" but the weights add up to {running} lb."
                )


# ---------------------------------------------------------------------------- label draft
