"""Prices per unit, derived from a total and rounded to four places; never multiplied back.

They compare offers; with the price of a ton as the total and 2,000 lb as the weight they are
the cost-per-pound-of-nutrient arithmetic of extension fact sheets.
"""

from __future__ import annotations

from decimal import Decimal

from blendshop.money import unit_price
from orders.pricing.checks import require_decimal

_ZERO = Decimal(0)
_HUNDRED = Decimal(100)


def price_per_unit(price: Decimal, quantity: Decimal) -> Decimal:
    """``price`` divided by a quantity above 0 (gallons, pounds, packages)."""
    require_decimal("quantity", quantity, above=_ZERO)
    return unit_price(price / quantity)


def price_per_lb_n(price: Decimal, mass_lb: Decimal, n_pct: Decimal) -> Decimal | None:
    """Price of a pound of nitrogen in ``mass_lb`` of product; None without nitrogen."""
    return price_per_1000sqft(price, mass_lb, n_pct, Decimal(1))


def price_per_1000sqft(
    price: Decimal, mass_lb: Decimal, n_pct: Decimal, n_rate_lb_per_1000sqft: Decimal
) -> Decimal | None:
    """Price of product for 1,000 sq ft at a nitrogen rate in lb N; None without nitrogen."""
    require_decimal("price", price)
    require_decimal("mass_lb", mass_lb, above=_ZERO)
    require_decimal("n_pct", n_pct, at_least=_ZERO)
    require_decimal("n_rate_lb_per_1000sqft", n_rate_lb_per_1000sqft, above=_ZERO)
    if n_pct == 0:
        return None
    return unit_price(price * n_rate_lb_per_1000sqft * _HUNDRED / (mass_lb * n_pct))
