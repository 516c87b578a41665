"""What the plant's own papers print: record, certificate, packing list, pick list, labels.

Frozen values like ``view_models``; weighed masses are Decimals and print every digit weighed.
No field holds a price. What goes to a customer says in ``written`` how it is written, and keeps
the same in English, of the same moment, as ``in_english``.
"""

from __future__ import annotations

import datetime as dt
from dataclasses import dataclass, field
from decimal import Decimal

from blendshop.snapshot import Snapshot, stored_as
from orders.papers.view_models import AnalysisFigure, LoadPartLine
from orders.records.letterhead import Party, Plant
from orders.records.written import Written

# ------------------------------------------------------------------------------- pick list


@dataclass(frozen=True, slots=True)
class PickLine(Snapshot):
    """One stock to bring to the tank and the lots to take it from, first to expire first."""

    stock_code: str
    stock_name: str
    weight_lb: Decimal
    lots: tuple[str, ...]
    note: str = ""


@dataclass(frozen=True, slots=True)
class PickListView(Snapshot):
    plant: Plant
    number: str
    product_name: str
    tank_name: str
    picked_for: dt.date
    lines: tuple[PickLine, ...]


# ---------------------------------------------------------------------------- batch record


@dataclass(frozen=True, slots=True)
class PlanActual(Snapshot):
    """One weighing of the plan, or of a correction, against what went in."""

    number: int
    stock_code: str
    stock_name: str
    planned_lb: Decimal
    actual_lb: Decimal
    words: str
    why: str = ""


@dataclass(frozen=True, slots=True)
class RecordCharge(Snapshot):
    """One charge as it was written down; ``reversed_because`` is set if it counts no more."""

    step: int
    stock_code: str
    lot: str
    supplier_lot: str
    mass_lb: Decimal
    who: str
    at: str
    reversed_because: str = field(default="", metadata=stored_as("taken_back"))


@dataclass(frozen=True, slots=True)
class GuaranteeMade(Snapshot):
    """One guarantee against what was made, percent, and the verdict in words."""

    name: str
    guaranteed_pct: float
    made_pct: float
    words: str


@dataclass(frozen=True, slots=True)
class MaximumMade(Snapshot):
    """One maximum against what was made, percent, and the verdict in words."""

    name: str
    most_pct: float
    made_pct: float
    words: str


@dataclass(frozen=True, slots=True)
class RecordReading(Snapshot):
    at: str
    who: str
    density_lb_per_gal: float
    temperature_f: float
    density_at_reference: float
    reference_f: float
    ph: float | None
    appearance: str
    findings: tuple[str, ...] = ()
    laboratory: str = ""
    set_aside: str = ""


@dataclass(frozen=True, slots=True)
class RecordEvent(Snapshot):
    at: str
    who: str
    what: str


@dataclass(frozen=True, slots=True)
class PackageLine(Snapshot):
    serial: str
    net_lb: Decimal


@dataclass(frozen=True, slots=True)
class BatchRecordView(Snapshot):
    """Plan against actual, lots, readings, who and when; ``state`` is that of the printing.

    ``heel`` is what the batch was charged onto, in words; empty for an empty tank. ``lowered``
    says what it was planned as and who agreed to less, where it is sold as less.
    """

    plant: Plant
    number: str
    state: str
    product_name: str
    blend_reference: str
    grade: str
    parts: tuple[LoadPartLine, ...]
    tank_name: str
    planned_on: dt.date
    planned_lb: Decimal
    charged_lb: Decimal
    steps: tuple[PlanActual, ...]
    charges: tuple[RecordCharge, ...]
    analysis: tuple[AnalysisFigure, ...]
    guarantees: tuple[GuaranteeMade, ...]
    readings: tuple[RecordReading, ...]
    events: tuple[RecordEvent, ...]
    packages: tuple[PackageLine, ...] = ()
    balance: str = ""
    rinses: tuple[str, ...] = ()
    heel: str = ""
    maxima: tuple[MaximumMade, ...] = ()
    lowered: str = ""
    density: str = ""


# ----------------------------------------------------------------------------- certificate


@dataclass(frozen=True, slots=True)
class CertifiedFigure(Snapshot):
    """One guarantee, what was found, and how: by calculation or by a named laboratory."""

    name: str
    guaranteed_pct: float
    found_pct: float
    method: str
    words: str


@dataclass(frozen=True, slots=True)
class CertificateView(Snapshot):
    OMITTED = frozenset({"written", "in_english"})

    plant: Plant
    number: str
    product_name: str
    grade: str
    customer: Party
    order_number: str
    made_on: dt.date
    released_on: dt.date
    released_by: str
    figures: tuple[CertifiedFigure, ...]
    density_lb_per_gal: float | None
    density_temperature_f: float
    ph: float | None
    appearance: str
    remarks: tuple[str, ...] = ()
    density_is_calculated: bool = False
    page_url: str = ""  # what its customer may read of it, as QR code
    customer_reference: str = ""  # the customer's own order number
    written: Written | None = None  # None: as the house writes
    in_english: CertificateView | None = None

    def __post_init__(self) -> None:
        if not self.figures:
            raise ValueError("A certificate of analysis needs at least one figure.")


# ---------------------------------------------------------------------------- packing list


@dataclass(frozen=True, slots=True)
class PackedLine(Snapshot):
    """The packages of one batch on the truck; ``estimated_lb`` is of those not weighed."""

    product_name: str
    grade: str
    batch_number: str
    package_name: str
    tare_lb: Decimal
    packages: tuple[PackageLine, ...]
    not_weighed: int = 0
    estimated_lb: Decimal = Decimal(0)

    @property
    def count(self) -> int:
        return len(self.packages) + self.not_weighed

    @property
    def net_lb(self) -> Decimal:
        return sum((package.net_lb for package in self.packages), self.estimated_lb)

    @property
    def gross_lb(self) -> Decimal:
        return self.net_lb + self.tare_lb * self.count


@dataclass(frozen=True, slots=True)
class PackingListView(Snapshot):
    OMITTED = frozenset({"customer_note", "written", "in_english"})

    plant: Plant
    number: str
    customer: Party
    ship_to: Party
    customer_reference: str
    lines: tuple[PackedLine, ...]
    cautions: tuple[str, ...]
    transport: str
    customer_note: str | None = None
    written: Written | None = None  # None: as the house writes
    in_english: PackingListView | None = None

    def __post_init__(self) -> None:
        if not any(line.packages for line in self.lines):
            raise ValueError("A packing list needs at least one filled package.")


# -------------------------------------------------------------------------- package labels


@dataclass(frozen=True, slots=True)
class LabelledPackage(Snapshot):
    serial: str
    net_lb: Decimal
    package_name: str
    customer_name: str
    product_name: str = ""
    grade: str = ""
    position: int = 0  # among the packages of its part; 0 on labels of before
    of: int = 0
    order_number: str = ""
    page_url: str = ""  # the package's own page, as QR code


@dataclass(frozen=True, slots=True)
class PackageLabelsView(Snapshot):
    """One label a package; the serial is what a scanner types.

    ``stock`` names the size of label, a key of ``label_stock.STOCKS``; empty for letter pages.
    """

    plant: Plant
    number: str
    product_name: str
    grade: str
    packages: tuple[LabelledPackage, ...]
    stock: str = ""

    def __post_init__(self) -> None:
        if not self.packages:
            raise ValueError("There is no filled package to label.")
