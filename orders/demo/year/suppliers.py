"""What the demo's two suppliers ask: days, least orders, what they sell in. Invented."""

from __future__ import annotations

from typing import Final

NOTE: Final = "Demo, invented."
#: Stock code: days to delivery, least order and steps in lb, and the same of the second supplier.
TERMS: Final[dict[str, tuple[tuple[int, int, int], tuple[int, int, int]]]] = {
    "UAN32": ((7, 22000, 22000), (12, 10000, 2000)),
    "UAN28": ((7, 22000, 22000), (12, 10000, 2000)),
    "UREA20": ((9, 20000, 20000), (14, 9000, 1800)),
    "TRIAZONE28": ((14, 11400, 2850), (21, 5700, 2850)),
    "MU30": ((14, 11400, 2850), (21, 5700, 2850)),
    "KCL138": ((6, 10000, 2500), (10, 5000, 2500)),
    "KTHIO25": ((10, 6500, 3250), (18, 3250, 3250)),
    "HUMIC12": ((12, 2400, 2400), (20, 2400, 2400)),
    "MICROPACK": ((15, 560, 560), (25, 560, 560)),
    "DCD20": ((18, 490, 490), (28, 490, 490)),
    "NBPT25": ((18, 440, 440), (28, 440, 440)),
}
#: Stock code: lb its storage takes.
STORAGE: Final[dict[str, int]] = {"UAN32": 60000, "TRIAZONE28": 25650, "KCL138": 22500}
#: Stock code, lb and days from today of what is on the way from the first supplier.
ON_THE_WAY: Final = (("KTHIO25", 6500, 6), ("MICROPACK", 560, 9))
