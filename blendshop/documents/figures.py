"""How figures are written on paper. Quantities are rounded here, once, half up.

Money is written by ``blendshop.money``, which refuses to drop a digit: a paper never rounds a
price again.
"""

from __future__ import annotations

import datetime as dt
from decimal import ROUND_HALF_UP, Decimal, localcontext

from blendshop.money import format_money, money


def fixed(value: float, places: int) -> str:
    """``1234.5`` as ``1,234.50``. Goes by the shortest decimal form, so 2.675 gives 2.68."""
    with localcontext(rounding=ROUND_HALF_UP):
        return f"{Decimal(repr(float(value))):z,.{places}f}"  # z: no "-0.0"


def scale_weight(weight_lb: float, scale_step_lb: float) -> str:
    """A weight with as many places as the scale shows."""
    return fixed(weight_lb, step_places(scale_step_lb))


def step_places(step: float) -> int:
    """Decimal places of a scale step: 5 and 1 give 0, 0.5 gives 1, 0.25 gives 2."""
    exponent = Decimal(repr(float(step))).normalize().as_tuple().exponent
    return max(0, -int(exponent))


def content(pct: float) -> str:
    """A content in percent by weight: one place from 1 up, two below, four below 0.01."""
    if pct == 0:
        return "0%"
    places = 1 if abs(pct) >= 1 else 2 if abs(pct) >= 0.01 else 4
    return f"{fixed(pct, places)}%"


def guarantee(pct: Decimal) -> str:
    """A guarantee with exactly the digits it was given; a zero precedes the point."""
    if not isinstance(pct, Decimal):
        raise TypeError(f"A guarantee is a Decimal, not a {type(pct).__name__}: {pct!r}.")
    return f"{pct:f}%"


def unit_price(price: Decimal, currency: str) -> str:
    """A price per unit: cents, or four places where it has more than cents."""
    return format_money(price, currency, places=2 if price == money(price) else 4)


def date(day: dt.date) -> str:
    """``March 2, 2026``: the month as a word, because 3/2 is read two ways."""
    return f"{day:%B} {day.day}, {day.year}"
