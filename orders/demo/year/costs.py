"""How the costs of eight stocks moved: letters of their suppliers over the year. Invented."""

from __future__ import annotations

from collections.abc import Mapping
from decimal import Decimal
from typing import Final

#: Days before today on which the costs of a letter came into force, the first before the year.
LETTERS: Final = (470, 255, 130, 40)
#: Of each letter the cost beside the shipped demo cost, which holds from the last one on.
MOVED: Final[Mapping[str, tuple[Decimal, ...]]] = {
    code: tuple(Decimal(factor) for factor in factors.split())
    for code, factors in {
        "UAN32": "0.89 0.95 1.07 1.00",
        "UAN28": "0.90 0.96 1.06 1.00",
        "UREA20": "0.92 0.98 1.05 1.00",
        "TRIAZONE28": "0.96 0.97 1.02 1.00",
        "MU30": "0.97 0.97 1.01 1.00",
        "KCL138": "1.08 1.05 1.02 1.00",
        "KTHIO25": "0.95 1.00 1.04 1.00",
        "MICROPACK": "0.98 1.00 1.03 1.00",
    }.items()
}
NOTE: Final = "demo cost, invented"
