"""What a stock or a blend holds, by name; loaded for every template."""

from django import template

from formulas.engine.composition import SHORT_NAMES

register = template.Library()


@register.filter
def nutrient(key: str) -> str:
    """A composition key as people read it: P2O5 with subscripts, N.slow as words."""
    return SHORT_NAMES.get(key, key)
