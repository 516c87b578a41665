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
from decimal import Decimal
from enum import StrEnum

from blendshop.snapshot import Snapshot


class Severity(StrEnum):
    """How much a finding matters; the same words as ``formulas.engine.result.Finding``."""

    INFO = "info"
    CAUTION = "caution"
    STOP = "stop"


@dataclass(frozen=True, slots=True)
class Plant(Snapshot):
    """The plant that issues the paper; ``registrations`` are licence or registration lines."""

    name: str
    address_lines: tuple[str, ...]
    phone: str = ""
    email: str = ""
    registrations: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class Party(Snapshot):
    """A company or place: name, address lines and whom to ask for."""

    name: str
    address_lines: tuple[str, ...] = ()
    contact: str = ""


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


@dataclass(frozen=True, slots=True)
class QuoteLine(Snapshot):
    """One blend on a quote. Prices are what the customer pays: never a cost or a margin."""

    blend_name: str
    blend_reference: str
    grade: str
    analysis: tuple[AnalysisFigure, ...]
    slow_release_pct: float | None  # percent of total N
    density_lb_per_gal: float
    package_name: str
    package_count: int
    volume_gal: float  # of the whole line
    mass_lb: float  # of the whole line
    price_per_gal: Decimal
    price_per_package: Decimal
    line_total: Decimal
    n_rate_lb_per_1000sqft: float | None = None
    price_per_1000sqft: Decimal | None = None
    price_per_lb_n: Decimal | None = None
    cautions: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class QuoteCharge(Snapshot):
    """A deposit, freight or other amount beside the goods; a credit is negative."""

    label: str
    amount: Decimal
    detail: str = ""


@dataclass(frozen=True, slots=True)
class QuoteView(Snapshot):
    """A quote. ``total`` must be the sum of line totals, deposits, freight and other charges."""

    plant: Plant
    number: str
    quoted_on: dt.date
    valid_until: dt.date
    customer: Party
    ship_to: Party
    lines: tuple[QuoteLine, ...]
    total: Decimal
    deposits: tuple[QuoteCharge, ...] = ()
    freight: tuple[QuoteCharge, ...] = ()
    other_charges: tuple[QuoteCharge, ...] = ()
    currency: str = "USD"  # ISO 4217, printed by blendshop.money
    prepared_by: str = ""
    notes: str = ""
    terms: tuple[str, ...] = ()  # one paragraph each
    accept_url: str = ""  # printed as QR and text when given
    cautions: tuple[PaperFinding, ...] = ()

    def __post_init__(self) -> None:
        if not self.lines:
            raise ValueError("A quote needs at least one line.")
        charged = self.goods_total + sum(charge.amount for charge in self.charges)
        if charged != self.total:
            raise ValueError(f"The quote's total {self.total} is not the sum {charged}.")

    @property
    def goods_total(self) -> Decimal:
        """Sum of the line totals."""
        return sum((line.line_total for line in self.lines), Decimal(0))

    @property
    def charges(self) -> tuple[QuoteCharge, ...]:
        """Everything charged beside the goods, in printed order."""
        return (*self.freight, *self.other_charges, *self.deposits)


# --------------------------------------------------------------------------- batch ticket


@dataclass(frozen=True, slots=True)
class ChargeStep(Snapshot):
    """One weighing, in charging order. ``weight_lb`` is a whole number of scale steps."""

    stock_code: str
    stock_name: str
    weight_lb: float
    running_total_lb: float
    scale_step_lb: float
    volume_gal: float | None = None
    instruction: str = ""

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


@dataclass(frozen=True, slots=True)
class GuaranteeLine(Snapshot):
    """One line of the guaranteed analysis, printed with the digits ``pct`` carries.

    ``key`` is a composition key; ``parent`` the key of the line it is indented under (a
    nitrogen form under "N"), empty for a guarantee of its own. ``footnote_mark`` ("*") ties the
    line to the slow-release statement.
    """

    key: str
    label: str
    pct: Decimal
    parent: str = ""
    footnote_mark: str = ""


@dataclass(frozen=True, slots=True)
class OtherIngredient(Snapshot):
    """A non-plant-food ingredient that is claimed: name, percent, what it comes from."""

    label: str
    pct: Decimal
    derived_from: str = ""


@dataclass(frozen=True, slots=True)
class NotClaimed(Snapshot):
    """A content that is present but may not be guaranteed: the rule and its source."""

    label: str
    pct: float
    rule: str
    source: str = ""


@dataclass(frozen=True, slots=True)
class MetalLine(Snapshot):
    """One metal against the limit that follows from the guarantees; ``verdict`` in words."""

    label: str
    found_ppm: float | None
    limit_ppm: float | None
    verdict: str
    rule: str
    note: str = ""


@dataclass(frozen=True, slots=True)
class LabelChangeLine(Snapshot):
    """What a person changed on the label, when and why; ``change`` says it in words."""

    label: str
    change: str
    who: str
    on: dt.date
    why: str


@dataclass(frozen=True, slots=True)
class DutyLine(Snapshot):
    """What the law of the ship-to asks of this label; for the reviewer to tick off."""

    topic: str
    text: str
    source: str = ""


@dataclass(frozen=True, slots=True)
class LabelDraftView(Snapshot):
    """A label-analysis draft. ``guarantees`` come in printed order, children after parents.

    Everything up to ``cautions`` is printed on the label; the rest is for the reviewer.
    """

    plant: Plant
    number: str
    drafted_on: dt.date
    product_name: str
    grade: str
    guarantees: tuple[GuaranteeLine, ...]
    derived_from: tuple[str, ...]
    guarantor: Party
    net_mass_lb: float
    net_mass_kg: float
    net_volume_gal: float
    net_volume_l: float
    density_lb_per_gal: float
    density_temperature_f: float = 68.0
    slow_release_statement: str = ""
    other_ingredients: tuple[OtherIngredient, ...] = ()
    lot: str = ""
    purchaser: Party | None = None
    delivered_on: dt.date | None = None
    page_url: str = ""  # the batch's own page, as QR code
    stabilized_nitrogen_statement: str = ""
    metals_statement: str = ""
    purpose_statement: str = ""  # of the other ingredients; empty: to be written by hand
    directions: tuple[str, ...] = ()
    cautions: tuple[str, ...] = ()
    not_claimed: tuple[NotClaimed, ...] = ()
    review_notes: tuple[str, ...] = ()
    changes: tuple[LabelChangeLine, ...] = ()
    duties: tuple[DutyLine, ...] = ()
    metals: tuple[MetalLine, ...] = ()

    def __post_init__(self) -> None:
        seen: set[str] = set()
        for line in self.guarantees:
            if line.parent and line.parent not in seen:
                raise ValueError(f"{line.key} is indented under {line.parent}, not listed above.")
            seen.add(line.key)
