"""The plant floor on a page: masses with every digit that was weighed, what a part fills."""

from collections.abc import Mapping
from decimal import Decimal
from typing import Final

from django import template
from django.utils.translation import gettext, gettext_noop

from blendshop.figures.readers import reader
from orders.planning.parts import filling_words
from orders.records.plant_words import package_words

register = template.Library()


@register.filter
def lb(mass: Decimal) -> str:
    """``Decimal("1204.500")`` as ``1,204.5``; TypeError for a float, which is not exact."""
    if not isinstance(mass, Decimal):
        raise TypeError(f"lb needs a Decimal, not {type(mass).__name__}.")
    return reader().every_digit(mass)


register.filter("filling", filling_words)
register.filter("package_words", package_words)


#: States as events keep them; the other codes are their own labels.
STATES: Final = (gettext_noop("new"), gettext_noop("planned"))


@register.filter
def state_word(code: str) -> str:
    """A state of the history, ``planned``, in the reader's language; what begins was ``new``."""
    return gettext(code or "new")


@register.filter
def at(words: Mapping[int | str, str], key: int | str) -> str:
    """What a mapping says of a row by its id or number; empty where it says nothing."""
    return words.get(key, "")
