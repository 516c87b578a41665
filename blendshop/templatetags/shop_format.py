"""The only way numbers reach a page. Each filter raises on a type it does not know."""

from decimal import Decimal

from django import template
from django.conf import settings

from blendshop.money import format_money

register = template.Library()


def _number(value: object, what: str) -> float:
    if isinstance(value, bool) or not isinstance(value, int | float | Decimal):
        raise TypeError(f"{what} needs a number, not {type(value).__name__}.")
    return float(value)


@register.filter
def money(value: Decimal) -> str:
    """Dollars and cents; refuses floats."""
    return format_money(value, settings.CURRENCY)


@register.filter
def unit_price(value: Decimal) -> str:
    """A price per gal, lb or 1000 sq ft, to four places."""
    return format_money(value, settings.CURRENCY, places=4)


@register.filter
def percent(value: float, places: int = 2) -> str:
    """Percent with a fixed number of places; the sign stands in the template."""
    return f"{_number(value, 'percent'):.{int(places)}f}"


@register.filter
def pounds(value: float, places: int = 1) -> str:
    return f"{_number(value, 'pounds'):,.{int(places)}f}"


@register.filter
def gallons(value: float, places: int = 1) -> str:
    return f"{_number(value, 'gallons'):,.{int(places)}f}"


@register.filter
def figure(value: float, places: int = 2) -> str:
    """Any other physical figure to a fixed number of places."""
    return f"{_number(value, 'figure'):,.{int(places)}f}"
