"""A price the wrong way round: the most that the material of a line may cost for a wished price.

Every step is rounded by itself and margins break with the gallons, so nothing is solved for: the
line is priced at one material cost after another. A dearer material never makes a cheaper line,
so halving the cents in between ends at the exact one.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from decimal import Decimal
from typing import Final

from orders.pricing.breakdown import PriceBreakdown
from orders.pricing.line import QuoteLine, RecipeLine
from orders.pricing.quote import price_line
from orders.pricing.terms import QuoteTerms

_CENT: Final = Decimal("0.01")
#: Far above any line; a price that even this keeps is no limit.
_MOST_CENTS: Final = 10**12


def largest_material_cost(
    line: QuoteLine, terms: QuoteTerms, keeps: Callable[[PriceBreakdown], bool]
) -> Decimal | None:
    """Dollars for all that is weighed for the line; None if it is too dear with free material.

    ``keeps`` says of a price whether it is low enough. PricingError as of ``price_line``.
    """

    def is_kept(cents: int) -> bool:
        return keeps(price_line(_costing(line, cents * _CENT), terms))

    if not is_kept(0):
        return None
    low, high = 0, 100
    while high < _MOST_CENTS and is_kept(high):
        low, high = high, 2 * high
    while high - low > 1:
        middle = (low + high) // 2
        low, high = (middle, high) if is_kept(middle) else (low, middle)
    return low * _CENT


def _costing(line: QuoteLine, dollars: Decimal) -> QuoteLine:
    """The same weights at this cost in all; no step asks which stock costs what."""
    weighed = RecipeLine(
        code="material", name="material", lb=line.weighed_lb, cost_per_lb=dollars / line.weighed_lb
    )
    return replace(line, recipe=(weighed,))
