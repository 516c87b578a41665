"""The blend page's words for a wish; nothing is found by them."""

from __future__ import annotations

from collections.abc import Mapping
from decimal import Decimal
from typing import Final

from django.conf import settings
from django.utils.functional import Promise
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy

from blendshop.figures.readers import reader
from blendshop.money import unit_price
from formulas.answers.wish import Range
from formulas.engine.composition import NAMES
from formulas.engine.wishes import SLOW_RELEASE, Side
from orders.blend_page.wish_place import Origin, Unit, WishPlace

_BOUNDS: Final[Mapping[tuple[Origin, Side], str | Promise]] = {
    (Origin.TYPED, Side.LEAST): gettext_lazy("{subject} at least"),
    (Origin.TYPED, Side.MOST): gettext_lazy("{subject} at most"),
    (Origin.LAW, Side.LEAST): gettext_lazy("{subject} by law at least"),
    (Origin.LAW, Side.MOST): gettext_lazy("{subject} by law at most"),
    (Origin.ON_HAND, Side.LEAST): gettext_lazy("{subject} on hand at least"),
    (Origin.ON_HAND, Side.MOST): gettext_lazy("{subject} on hand at most"),
    (Origin.MARGIN, Side.LEAST): gettext_lazy("{subject} with its margin at least"),
    (Origin.MARGIN, Side.MOST): gettext_lazy("{subject} with its margin at most"),
}
#: Chemical and trade short names, where a row has no room for the word.
_SHORT: Final[Mapping[str, str]] = {"P2O5": "P₂O₅", "K2O": "K₂O"}
_UNITS: Final[Mapping[Unit, str | Promise]] = {
    Unit.PCT: gettext_lazy("{figure} %"),
    Unit.PCT_OF_N: gettext_lazy("{figure} % of N"),
    Unit.STOCKS: "{figure}",
}


def subject_words(key: str) -> str:
    """What a content is called inside a sentence."""
    if key == SLOW_RELEASE:
        return _("slow release")
    return _("total nitrogen") if key == "N" else NAMES[key].lower()


def place_words(place: WishPlace) -> str:
    """``total nitrogen at least``: a wish without its figure."""
    if place.side is None:
        return _("{subject} as typed").format(subject=place.subject)
    return str(_BOUNDS[place.origin, place.side]).format(subject=place.subject)


def price_subject(per: str) -> str:
    """What a price for a gallon, tote or drum is called inside a sentence."""
    words = {
        "gal": _("price a gallon"),
        "tote": _("price a tote"),
        "drum": _("price a drum"),
        "pail": _("price a pail"),
    }
    return words[per]


def short_words(place: WishPlace) -> str:
    """``K₂O`` or ``slow``: a wish in as few letters as can be, to stand before its figure."""
    if place.unit is Unit.PCT_OF_N:
        subject = _("slow")
    elif place.unit is Unit.PCT:
        subject = _SHORT.get(place.key, place.key)
    else:
        subject = place.subject
    if place.side is Side.MOST and place.unit is not Unit.PRICE:
        return _("{subject} at most").format(subject=subject)
    return subject


def short_figure(place: WishPlace, figure: float) -> str:
    """The figure to follow it, percent without the sign."""
    if place.unit in (Unit.PRICE, Unit.COST):
        return figure_words(place, figure)
    return format(figure, ".4g")


def figure_words(place: WishPlace, figure: float, digits: str = ".10g") -> str:
    """``24 %``: a figure of a wish in the wish's unit."""
    if place.unit in (Unit.PRICE, Unit.COST):
        return reader().unit_price(unit_price(Decimal(repr(figure))), settings.CURRENCY)
    return str(_UNITS[place.unit]).format(figure=format(figure, digits))


def range_words(asked: Range) -> str:
    """``24``, ``3 to 3.5``, ``at least 24`` or ``at most 3``."""
    low, high = asked.min, asked.max
    if low is not None and high is not None:
        return f"{low:g}" if low == high else _("{low:g} to {high:g}").format(low=low, high=high)
    if low is not None:
        return _("at least {low:g}").format(low=low)
    return "" if high is None else _("at most {high:g}").format(high=high)
