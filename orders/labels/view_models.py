"""What a label draft prints: frozen values, no ORM, no clock."""

from __future__ import annotations

import datetime as dt
from dataclasses import dataclass, replace
from decimal import Decimal
from typing import Final

from blendshop.snapshot import Snapshot
from orders.records.letterhead import Party, Plant

_LISTED: Final = 6
_NOT_WEIGHED: Final = "package not weighed: net weight estimated"


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
class PackageNet(Snapshot):
    """Net contents of packages of one weight; without ``serials``: of those not weighed."""

    serials: tuple[str, ...]
    mass_lb: float
    mass_kg: float
    volume_gal: float
    volume_l: float


@dataclass(frozen=True, slots=True)
class LabelDraftView(Snapshot):
    """A label, a draft until it is approved.

    ``guarantees`` come in printed order, children after parents.

    Net contents are rounded down to the tenths that are printed: an estimate by volume and density,
    until packages are weighed. ``packages`` has the own net contents of each weight there is.
    Everything up to ``cautions`` is printed on the label; the rest is for the reviewer.
    ``approved_on`` is the day a formulator, ``approved_by``, approved it; with no name the day
    since which it was in use before labels were approved. ``package_cautions`` are those of
    ``cautions`` that stay on the package where a placard beside it has them all; none in labels
    of before, which are never split.
    """

    OMITTED = frozenset({"approved_on", "package_cautions"})

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
    page_url: str = ""  # what its customer may read of it, as QR code
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
    packages: tuple[PackageNet, ...] = ()
    package_cautions: tuple[str, ...] = ()
    approved_by: str = ""
    approved_on: dt.date | None = None

    @property
    def is_draft(self) -> bool:
        """Whether it is still to be approved, and says so wherever it is printed."""
        return self.approved_on is None

    def each_weight(self) -> tuple[LabelDraftView, ...]:
        """The label of each package weight; of packages nobody weighed the estimate alone."""
        return tuple(
            replace(
                self,
                lot=f"{self.lot}, {serial_words(each.serials) or _NOT_WEIGHED}",
                net_mass_lb=each.mass_lb,
                net_mass_kg=each.mass_kg,
                net_volume_gal=each.volume_gal,
                net_volume_l=each.volume_l,
                packages=(),
            )
            for each in self.packages
        ) or (self,)

    def __post_init__(self) -> None:
        seen: set[str] = set()
        for line in self.guarantees:
            if line.parent and line.parent not in seen:
                raise ValueError(f"{line.key} is indented under {line.parent}, not listed above.")
            seen.add(line.key)


def serial_words(serials: tuple[str, ...]) -> str:
    """The serials of packages of one weight; of many the first and the last."""
    if len(serials) <= _LISTED:
        return ", ".join(serials)
    return f"{serials[0]} … {serials[-1]} ({len(serials)})"
