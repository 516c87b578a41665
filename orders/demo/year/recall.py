"""One recall of the year, closed since: a lot, what it reached, whom it concerned. Invented."""

from __future__ import annotations

from typing import Final

#: Of which stock, and how many days ago it was called back at the latest.
STOCK: Final = "MICROPACK"
DAYS_AGO: Final = 100
REASON: Final = "The supplier withdrew its certificate: zinc below what it said. Demo, invented."
CUSTOMER_REASON: Final = (
    "A micronutrient in this product may hold less zinc than the label says. It may be used up;"
    " we credit the difference. Demo, invented."
)
FREED: Final = "The supplier's second analysis came within its certificate. Demo, invented."
CLOSED: Final = "Every customer was told, nothing is left to bring back. Demo, invented."
TOLD: Final = "Demo, invented."
