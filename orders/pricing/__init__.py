"""From cost to price: every step a visible line. Pure; no database, no clock, no floats.

**Rounding.** Each step is rounded half up to the cent when it is computed; a total is the sum of
rounded steps, so the lines always add up to it. The material step is the exact cost of the whole
recipe rounded once, as a formulation and a load plan say it, and its stocks share those cents.
Unit prices are derived from the total, have four places, and are never multiplied back.

**Order.** Material, shrink, blending (by batch, by gallon), package, laboratory, state tonnage
fee, freight, margin, a discount on the line, its share of one on the whole quote, and last the
refundable deposit, which is part of ``total`` but of no unit price. Quantities are whole packages
at nominal fill, or gallons in bulk.
"""

from orders.pricing.breakdown import MaterialLine, PriceBreakdown, PriceStep
from orders.pricing.checks import PricingError
from orders.pricing.customer import CustomerLine, customer_lines
from orders.pricing.discount import Discount
from orders.pricing.freight import TruckLoad, plan_loads
from orders.pricing.line import (
    Override,
    PackageKind,
    PackageOption,
    PlannedMaterial,
    QuoteLine,
    RecipeLine,
    WholeShare,
)
from orders.pricing.material_ceiling import largest_material_cost
from orders.pricing.quote import (
    PriceBreak,
    QuotePrice,
    batch_count,
    package_count,
    price_breaks,
    price_line,
    price_quote,
)
from orders.pricing.terms import (
    FEDERAL_GROSS_LIMIT_LB,
    LB_PER_TON,
    OPEN_STEPS,
    Delivery,
    FreightZone,
    MarginKind,
    MarginPolicy,
    QuantityBreak,
    QuoteTerms,
    ShopRates,
    StepCode,
    TonnageFee,
    Truck,
)
from orders.pricing.unit_prices import price_per_1000sqft, price_per_lb_n, price_per_unit
from orders.pricing.whole_quote import WholeDeal, price_choices

__all__ = [
    "FEDERAL_GROSS_LIMIT_LB",
    "LB_PER_TON",
    "OPEN_STEPS",
    "CustomerLine",
    "Delivery",
    "Discount",
    "FreightZone",
    "MarginKind",
    "MarginPolicy",
    "MaterialLine",
    "Override",
    "PackageKind",
    "PackageOption",
    "PlannedMaterial",
    "PriceBreak",
    "PriceBreakdown",
    "PriceStep",
    "PricingError",
    "QuantityBreak",
    "QuoteLine",
    "QuotePrice",
    "QuoteTerms",
    "RecipeLine",
    "ShopRates",
    "StepCode",
    "TonnageFee",
    "Truck",
    "TruckLoad",
    "WholeDeal",
    "WholeShare",
    "batch_count",
    "customer_lines",
    "largest_material_cost",
    "package_count",
    "plan_loads",
    "price_breaks",
    "price_choices",
    "price_line",
    "price_per_1000sqft",
    "price_per_lb_n",
    "price_per_unit",
    "price_quote",
]
