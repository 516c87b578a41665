from orders.models.batch import Batch, BatchEvent
from orders.models.events import Event
from orders.models.numbering import NumberSeries
from orders.models.order import Order, OrderEvent, OrderLine
from orders.models.paper import Paper
from orders.models.people import CustomerTerms, PlantProfile, ShipTo
from orders.models.policy import (
    FreightZone,
    Package,
    PricePolicy,
    PriceTier,
    QuantityBreak,
    StateFee,
    Tank,
    Truck,
)
from orders.models.pounds import PoundsField
from orders.models.quote import Quote, QuoteEvent, QuoteLine
from orders.models.stock import (
    LotEvent,
    LotFigure,
    LotMetal,
    StockLot,
    StockMovement,
    StockReservation,
)

__all__ = [
    "Batch",
    "BatchEvent",
    "CustomerTerms",
    "Event",
    "FreightZone",
    "LotEvent",
    "LotFigure",
    "LotMetal",
    "NumberSeries",
    "Order",
    "OrderEvent",
    "OrderLine",
    "Package",
    "Paper",
    "PlantProfile",
    "PoundsField",
    "PricePolicy",
    "PriceTier",
    "QuantityBreak",
    "Quote",
    "QuoteEvent",
    "QuoteLine",
    "ShipTo",
    "StateFee",
    "StockLot",
    "StockMovement",
    "StockReservation",
    "Tank",
    "Truck",
]
