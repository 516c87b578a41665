"""Acres and rates of a season in the units of whoever reads the page."""

from __future__ import annotations

from django import template

from blendshop.figures.readers import reader
from orders.season import reader_units
from orders.season.reader_units import SeasonWords, shown

register = template.Library()


@register.simple_tag
def season_words() -> SeasonWords:
    return reader_units.season_words()


@register.filter
def area(acres: float) -> str:
    """``40`` acres as ``40.00``, or ``16.19`` hectares."""
    return reader().number(shown(reader_units.area_unit(), acres), 2)


@register.filter
def n_rate(lb_per_1000sqft: float) -> str:
    """``0.9`` lb as ``0.90``, or ``4.39`` g/m²."""
    return reader().number(shown(reader_units.rate_unit(), lb_per_1000sqft), 2)


@register.filter
def spray_volume(gal_per_1000sqft: float) -> str:
    return reader().number(shown(reader_units.spray_unit(), gal_per_1000sqft), 2)
