"""Numbers and counts inside the sentences that explain a price step. English, for reading."""

from __future__ import annotations

from decimal import Decimal

from blendshop.money import format_money, money, unit_price


def number(value: Decimal, places: int = 1) -> str:
    """``Decimal("2855.10")`` as ``2,855.1``: thousands marked, no trailing zeros."""
    text = f"{value:,.{places}f}"
    return text.rstrip("0").rstrip(".") if "." in text else text


def percent(value: Decimal) -> str:
    """``1.5 %``, at most two places."""
    return f"{number(value, 2)} %"


def rate(value: Decimal, currency: str) -> str:
    """A rate in money: to the cent if that is exact, else to four places."""
    if money(value) == value:
        return format_money(value, currency)
    return format_money(unit_price(value), currency, places=4)


def count(quantity: int, one: str, many: str) -> str:
    """``1 tote``, ``5 totes``."""
    return f"{quantity:,} {one if quantity == 1 else many}"
