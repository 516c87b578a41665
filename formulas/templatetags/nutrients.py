"""What a stock or a blend holds, by name; loaded for every template."""

from django import template

from formulas.answers.promised_grade import product_name
from formulas.engine.composition import SHORT_NAMES

register = template.Library()


@register.filter
def nutrient(key: str) -> str:
    """A composition key as people read it: P2O5 with subscripts, N.slow as words."""
    return SHORT_NAMES.get(key, key)


@register.filter
def with_grade(name: str, grade: str) -> str:
    """A blend by name and grade, the grade once where the name holds it."""
    return product_name(name, grade)
