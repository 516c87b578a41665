"""Rules of the uniform guaranteed analysis, as data: names, minimums, decimals, sources.

The engine of state-by-state rules will read other tables of the same shapes.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from decimal import Decimal
from enum import StrEnum
from typing import Final

from formulas.engine.mark import Mark


class Kind(StrEnum):
    """Specialty (nonfarm, lawns included) may print decimals; commercial prints whole numbers."""

    SPECIALTY = "specialty"
    COMMERCIAL = "commercial"


@dataclass(frozen=True, slots=True)
class Minimum:
    """The least percentage at which a nutrient may be guaranteed, and its printed decimals."""

    pct: float
    decimals: int


MINIMUM_SOURCE: Final = "WAC 16-200-711; Utah R68-3-4; 355 IAC 2-1-5; 250-RICR-40-20-10.3"
#: In the order of the label, directly after N, P2O5 and K2O. Nickel is not in the Washington list.
MINIMUMS: Final[Mapping[str, Minimum]] = {
    "Ca": Minimum(1.0, 2),
    "Mg": Minimum(0.5, 2),
    "S": Minimum(1.0, 2),
    "B": Minimum(0.02, 2),
    "Cl": Minimum(0.1, 2),
    "Co": Minimum(0.0005, 4),
    "Cu": Minimum(0.05, 2),
    "Fe": Minimum(0.1, 2),
    "Mn": Minimum(0.05, 2),
    "Mo": Minimum(0.0005, 4),
    "Ni": Minimum(0.001, 4),
    "Na": Minimum(0.1, 2),
    "Zn": Minimum(0.05, 2),
}
#: Not guaranteed unasked: it is no selling point of a lawn product. No rule that asks for the line
#: of a lawn fertilizer was found in the codes read.
ASKED_ONLY: Final = frozenset({"Cl"})
ASKED_ONLY_SOURCE: Final = Mark.COMMON_PRACTICE
PRIMARY: Final = ("N", "P2O5", "K2O")
#: Nitrogen forms may carry decimals also on a whole-number grade (ATCP 40.10(6)(a)), at most these.
FORM_DECIMALS: Final = 2
OTHER_DECIMALS: Final[Mapping[str, int]] = {
    "humic_acid": 2,
    "fulvic_acid": 2,
    "seaweed_extract": 2,
    "NBPT": 3,
    "DCD": 3,
}
ZERO_SOURCE: Final = "Oregon ORS 633.321(1)(f); Utah Code 4-13-104(1)(b)(ii)"

#: A slow-release claim needs this share of the guaranteed total, percent.
SLOW_SHARE_PCT: Final = 15
SLOW_SOURCE: Final = "12 KAR 4:100 section 1; Utah R68-3-4(3)(a); Ga. R. 40-6-5-.01(3)"
#: Source terms recognised as slowly available water-soluble nitrogen
#: (12 KAR 4:100 section 2(4), WAC 16-200-721).
SLOW_SOURCE_TERMS: Final = (
    "urea-triazone",
    "methylene urea",
    "methylenediurea",
    "dimethylenetriurea",
    "urea-formaldehyde",
    "dicyandiamide",
)

LABELS: Final[Mapping[str, str]] = {
    "N": "Total Nitrogen (N)",
    "N.ammoniacal": "Ammoniacal Nitrogen",
    "N.nitrate": "Nitrate Nitrogen",
    "N.urea": "Urea Nitrogen",
    "N.slow": "Slowly Available Water Soluble Nitrogen",
    "N.insoluble": "Water Insoluble Nitrogen",
    "P2O5": "Available Phosphate (P2O5)",
    "K2O": "Soluble Potash (K2O)",
    "Ca": "Calcium (Ca)",
    "Mg": "Magnesium (Mg)",
    "S": "Sulfur (S)",
    "B": "Boron (B)",
    "Cl": "Chlorine (Cl)",
    "Co": "Cobalt (Co)",
    "Cu": "Copper (Cu)",
    "Fe": "Iron (Fe)",
    "Mn": "Manganese (Mn)",
    "Mo": "Molybdenum (Mo)",
    "Ni": "Nickel (Ni)",
    "Na": "Sodium (Na)",
    "Zn": "Zinc (Zn)",
    "humic_acid": "Humic acid",
    "fulvic_acid": "Fulvic acid",
    "seaweed_extract": "Seaweed extract",
    "NBPT": "N-(n-butyl) thiophosphoric triamide (NBPT)",
    "DCD": "Dicyandiamide (DCD)",
}
#: Name of slowly available nitrogen where no slow release may be claimed (Florida 5E-1.003(1)).
UNCLAIMED_SLOW_LABEL: Final = "Other Water Soluble Nitrogen"

#: Utah's reading of the 15 percent.
EACH_SLOW_SOURCE: Final = "Utah R68-3-4(3)(a) (2020 text, paragraph C.1)"
WATER_SOLUBLE_SLOW_SOURCE: Final = "10 V.S.A. 1266b(a)(7); 7 Pa. Code 73.6(d), (e)"


@dataclass(frozen=True, slots=True)
class ContentWarning:
    """A content from which a state may ask for a warning; ``inclusive``: at the figure itself."""

    key: str
    from_pct: float
    inclusive: bool
    message: str
    source: str

    def applies(self, key: str, pct: Decimal) -> bool:
        """Whether a guarantee of ``pct`` asks for this warning."""
        limit = Decimal(repr(self.from_pct))
        return key == self.key and (pct >= limit if self.inclusive else pct > limit)


WARNINGS: Final = (
    ContentWarning(
        key="B",
        from_pct=0.03,
        inclusive=True,
        message="Boron (B) of 0.03 % or more: where it is water soluble Indiana asks for a "
        "warning that boron may injure some plants.",
        source="355 IAC 2-1-5",
    ),
    ContentWarning(
        key="B",
        from_pct=0.1,
        inclusive=False,
        message="Boron (B) above 0.1 %: Washington may ask for a warning that boron may injure "
        "certain crops and that directions must be followed.",
        source="WAC 16-200-711; note to Wis. Adm. Code ATCP 40.08",
    ),
    ContentWarning(
        key="Mo",
        from_pct=0.001,
        inclusive=False,
        message="Molybdenum (Mo) above 0.001 %: Washington may ask for a caution to use it only "
        "on crops that respond to molybdenum, as plants high in it are toxic to grazing animals.",
        source="WAC 16-200-711; note to Wis. Adm. Code ATCP 40.08",
    ),
    ContentWarning(
        key="Ni",
        from_pct=0.0,
        inclusive=False,
        message="Nickel (Ni) is named among the nutrients that need a caution in Wisconsin.",
        source="Note to Wis. Adm. Code ATCP 40.08",
    ),
)

#: Nutrients that may print a chelated or a water-soluble part, and its name after the adjective
#: (layout of Ga. R. 40-6-5-.01(1)(c)).
CHELATED: Final[Mapping[str, str]] = {
    "Ca": "Calcium", "Mg": "Magnesium", "Co": "Cobalt", "Cu": "Copper",
    "Fe": "Iron", "Mn": "Manganese", "Ni": "Nickel", "Zn": "Zinc",
}  # fmt: skip
WATER_SOLUBLE: Final[Mapping[str, str]] = {**CHELATED, "B": "Boron", "Mo": "Molybdenum"}
#: Ending of the key of a part and its adjective, in printed order.
PARTS: Final = ((".water_soluble", "Water Soluble"), (".chelated", "Chelated"))

#: What a custom product names: field of ``Particulars``, printed heading, who asks for it.
PARTICULARS: Final = (
    ("lot", "Lot", "Utah Code 4-13-104(3)"),
    ("guarantor", "Guaranteed by", "Mont. Admin. R. 4.12.604(1)(g); Utah Code 4-13-104(3)"),
    ("purchaser", "For", "Wis. Adm. Code ATCP 40.08(2)(a); Idaho Code 22-607(3)"),
    ("delivered_on", "Delivered", "Wis. Adm. Code ATCP 40.08(2)(a); OAC 901:5-1-04(C)"),
)
