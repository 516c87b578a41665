"""Demo deliveries: how many pounds of each base stock stand in the demo plant. Invented."""

from decimal import Decimal
from typing import Any, Final

SUPPLIER: Final = "Demo supplier, invented"
#: Pounds received of a stock not named below.
USUAL_LB: Final = Decimal(4000)
#: Bulk stocks come by the truck, concentrates by the drum.
RECEIVED_LB: Final[dict[str, Any]] = {
    "WATER": Decimal(60000),
    "UAN28": Decimal(44000),
    "UAN32": Decimal(44000),
    "UREA20": Decimal(40000),
    "TRIAZONE28": Decimal(42000),
    "MU30": Decimal(30000),
    "APP1034": Decimal(20000),
    "KACETATE24": Decimal(12000),
    "KTHIO25": Decimal(12000),
    "KCL138": Decimal(24000),
    "HUMIC12": Decimal(9000),
    "NBPT25": Decimal(480),
    "DCD20": Decimal(1900),
}
