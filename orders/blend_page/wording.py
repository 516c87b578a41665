"""The blend page's words for a wish; nothing is found by them."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Final

from django.utils.functional import Promise
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy

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


def figure_words(place: WishPlace, figure: float, digits: str = ".10g") -> str:
    """``24 %``: a figure of a wish in the wish's unit."""
    return str(_UNITS[place.unit]).format(figure=format(figure, digits))


def range_words(asked: Range) -> str:
    """``24``, ``3 to 3.5``, ``at least 24`` or ``at most 3``."""
    low, high = asked.min, asked.max
    if low is not None and high is not None:
        return f"{low:g}" if low == high else _("{low:g} to {high:g}").format(low=low, high=high)
    if low is not None:
        return _("at least {low:g}").format(low=low)
    return "" if high is None else _("at most {high:g}").format(high=high)
