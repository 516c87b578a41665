"""The only way numbers reach a page. Each filter raises on a type it does not know."""

from decimal import Decimal

from django import template
from django.conf import settings

from blendshop.figures.readers import reader
from blendshop.money import money as to_cents
from blendshop.monitoring import request_number as numbering

register = template.Library()


@register.simple_tag
def request_number() -> str:
    """The number of the request that is answered; known also where a page has no context."""
    return numbering.request_number()


@register.filter
def money(value: Decimal) -> str:
    """Dollars and cents; refuses floats."""
    return reader().money(value, settings.CURRENCY)


@register.filter
def unit_price(value: Decimal) -> str:
    """A price per gal, lb or 1000 sq ft: cents, or four places where it has more."""
    return reader().unit_price(value, settings.CURRENCY)


@register.filter
def price_per_volume(price_per_gal: Decimal) -> str:
    """Of one unit of volume as the reader has chosen, ``volume_mark`` being its mark."""
    return reader().price_per_volume(price_per_gal, settings.CURRENCY)


@register.simple_tag
def volume_mark() -> str:
    """``gal``, or ``L`` for who reads metric."""
    return reader().units.volume_gal.mark


@register.filter
def package_price(value: Decimal) -> str:
    """A price per package: it is paid in cents, and the line's total is what counts."""
    return reader().money(to_cents(value), settings.CURRENCY)


@register.filter
def percent(value: float, places: int = 2) -> str:
    """A share with a fixed number of places; the sign stands in the template."""
    return reader().number(value, int(places))


@register.filter
def pounds(value: float, places: int = 1) -> str:
    """Digits of a mass in pounds, for a column headed lb."""
    return reader().number(value, int(places))


@register.filter
def gallons(value: float, places: int = 1) -> str:
    """Digits of a volume in gallons, for a column headed gal."""
    return reader().number(value, int(places))


@register.filter
def volume(volume_gal: float | Decimal, places: int = 1) -> str:
    """A volume with the reader's unit: ``265.0 gal`` or ``1,003.1 L``."""
    return reader().volume(volume_gal, int(places))


@register.filter
def mass(mass_lb: float | Decimal, places: int = 1) -> str:
    """A mass with the reader's unit: ``1,204.5 lb`` or ``546.4 kg``."""
    return reader().mass(mass_lb, int(places))


@register.filter
def weighed(mass_lb: Decimal) -> str:
    """A mass that was weighed: every digit of the scale in pounds, converted for who reads kg."""
    return reader().read_weight(mass_lb)


@register.filter
def figure(value: float, places: int = 2) -> str:
    """Any other physical figure to a fixed number of places."""
    return reader().number(value, int(places))


@register.filter
def figure_at_most(value: float, places: int = 3) -> str:
    """A physical figure rounded to so many places, without zeros at the end: a test load."""
    return reader().at_most(value, int(places))
