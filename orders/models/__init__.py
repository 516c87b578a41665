from orders.models.application_record import ApplicationRecord
from orders.models.assay import PlantSpread, StockSpread
from orders.models.batch import Batch, BatchEvent, BatchPart
from orders.models.charging import (
    BatchClosing,
    Charge,
    MeasuredDensity,
    PackageSerial,
    PlanAddition,
    QualityReading,
    ReadingSetAside,
    ReversedCharge,
    TankRinse,
    TargetChange,
)
from orders.models.cost_change import (
    ChangedCost,
    CostChange,
    CostImpact,
    HeldAtNewCosts,
    OrderImpact,
    QuoteImpact,
)
from orders.models.crew_sheet import CrewSheet
from orders.models.events import Event
from orders.models.label import LabelChange
from orders.models.label_approval import LabelApproval, LabelApprovalWithdrawn
from orders.models.label_promise import LabelPromise
from orders.models.lowered_promise import LoweredPromise
from orders.models.numbering import NumberSeries
from orders.models.order import Order, OrderEvent, OrderLine
from orders.models.order_limits import OrderLimits
from orders.models.paper import Paper
from orders.models.people import ClosedDay, CustomerTerms, PlantProfile, ShipTo
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
from orders.models.question import CustomerQuestion
from orders.models.quote import Quote, QuoteEvent, QuoteLine
from orders.models.quote_margin import QuoteMargin
from orders.models.recall import HeldByRecall, Recall, RecallCustomer, RecallEvent, ToldOfRecall
from orders.models.retained_sample import RetainedSample, SampleDiscarded
from orders.models.rules_on_file import RulesChange, RulesOnFile
from orders.models.safety_sheet import SafetySheet
from orders.models.scale_verification import ScaleVerification
from orders.models.season import (
    ProgramProperty,
    ProgramRound,
    Property,
    SeasonProgram,
    SeasonProgramEvent,
)
from orders.models.shift import HandoverNote, HandoverRead, TankCleaning, UnsentWeights
from orders.models.spray_habit import SprayHabit
from orders.models.standing_order import StandingOrder, StandingOrderEvent, StandingRound
from orders.models.stock import (
    LotEvent,
    LotFigure,
    LotMetal,
    StockLot,
    StockMovement,
    StockReservation,
)
from orders.models.stock_plan import AcceptedStockPlan, PlannedRecipe
from orders.models.stock_purchase import StockPurchase, StockStorage
from orders.models.supplier_terms import SupplierTerms
from orders.models.tank_ledger import HeelCarried, TankEntry
from orders.models.tried_blend import TriedBlend

__all__ = [
    "AcceptedStockPlan",
    "ApplicationRecord",
    "Batch",
    "BatchClosing",
    "BatchEvent",
    "BatchPart",
    "ChangedCost",
    "Charge",
    "ClosedDay",
    "CostChange",
    "CostImpact",
    "CrewSheet",
    "CustomerQuestion",
    "CustomerTerms",
    "Event",
    "FreightZone",
    "HandoverNote",
    "HandoverRead",
    "HeelCarried",
    "HeldAtNewCosts",
    "HeldByRecall",
    "LabelApproval",
    "LabelApprovalWithdrawn",
    "LabelChange",
    "LabelPromise",
    "LotEvent",
    "LotFigure",
    "LotMetal",
    "LoweredPromise",
    "MeasuredDensity",
    "NumberSeries",
    "Order",
    "OrderEvent",
    "OrderImpact",
    "OrderLimits",
    "OrderLine",
    "Package",
    "PackageSerial",
    "Paper",
    "PlanAddition",
    "PlannedRecipe",
    "PlantProfile",
    "PlantSpread",
    "PoundsField",
    "PricePolicy",
    "PriceTier",
    "ProgramProperty",
    "ProgramRound",
    "Property",
    "QualityReading",
    "QuantityBreak",
    "Quote",
    "QuoteEvent",
    "QuoteImpact",
    "QuoteLine",
    "QuoteMargin",
    "ReadingSetAside",
    "Recall",
    "RecallCustomer",
    "RecallEvent",
    "RetainedSample",
    "ReversedCharge",
    "RulesChange",
    "RulesOnFile",
    "SafetySheet",
    "SampleDiscarded",
    "ScaleVerification",
    "SeasonProgram",
    "SeasonProgramEvent",
    "ShipTo",
    "SprayHabit",
    "StandingOrder",
    "StandingOrderEvent",
    "StandingRound",
    "StateFee",
    "StockLot",
    "StockMovement",
    "StockPurchase",
    "StockReservation",
    "StockSpread",
    "StockStorage",
    "SupplierTerms",
    "Tank",
    "TankCleaning",
    "TankEntry",
    "TankRinse",
    "TargetChange",
    "ToldOfRecall",
    "TriedBlend",
    "Truck",
    "UnsentWeights",
]
