"""A blend against a price not to be exceeded: is it kept, and what material would keep it."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from decimal import Decimal
from typing import Final

from blendshop.money import ZERO
from orders import pricing
from orders.pricing import PriceBreakdown, QuoteTerms
from orders.quoting.requests import PricedRequest, plain_material, quote_line
from orders.quoting.terms import unpriceable

#: The material of a line is rounded half up to the cent; so much more still rounds down.
_ROUNDED_AWAY: Final = Decimal("0.004999")


@dataclass(frozen=True, slots=True)
class AgainstPrice:
    """The price, whether it is kept, and the cost of a gallon of the plain recipe that keeps it.

    ``ceiling_per_gal`` is dollars, 0 where even free material is too dear. It is exact for this
    recipe: freight, fees and the room for weighing of another differ a little.
    """

    breakdown: PriceBreakdown
    is_kept: bool
    ceiling_per_gal: Decimal


def against_price(
    line: PricedRequest, terms: QuoteTerms, keeps: Callable[[PriceBreakdown], bool]
) -> AgainstPrice:
    """``keeps`` says of a price whether it is low enough. BadInput where there is no price."""
    try:
        asked = quote_line(line)
        breakdown = pricing.price_line(asked, terms)
        most = pricing.largest_material_cost(asked, terms, keeps)
    except pricing.PricingError as error:
        raise unpriceable(error) from error
    if most is None:
        return AgainstPrice(breakdown, is_kept=False, ceiling_per_gal=ZERO)
    weighed = sum((stock.lb * stock.cost_per_lb for stock in asked.recipe), ZERO)
    plain = sum((stock.lb * stock.cost_per_lb for stock in plain_material(line)), ZERO)
    share = plain / weighed if weighed else Decimal(1)
    ceiling = (most + _ROUNDED_AWAY) * share / line.volume_gal
    return AgainstPrice(breakdown, keeps(breakdown), ceiling)
