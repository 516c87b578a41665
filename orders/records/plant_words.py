"""What a plant typed once in the words of the house, as a customer reads it: packages, payment.

Names are the plant's own text. Where one is made of the trade's words (a size and a kind, net so
many days) it is read as that and said in the reader's language and units; any other stays as it is.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Mapping
from typing import Final

from django.utils.functional import Promise
from django.utils.translation import get_language, gettext_lazy, ngettext
from django.utils.translation import gettext as _

from blendshop.figures.readers import reader
from blendshop.languages.choice import house_choice

_PACKAGE: Final = re.compile(
    r"(?P<own>customer's own )?(?P<gal>\d+(?:\.\d+)?) gal (?P<kind>tote|drum|pail|jug)s?"
    r"(?P<deposit> on deposit)?"
)
_NET: Final = re.compile(r"net (?P<days>\d+)(?: days?)?(?P<rest>(?:\W.*)?)", re.IGNORECASE)
#: Packages without a size.
_NAMES: Final[Mapping[str, Promise]] = {"bulk tanker": gettext_lazy("bulk tanker")}
_KINDS: Final[Mapping[str, Callable[[int], str]]] = {
    "tote": lambda count: ngettext("{size} tote", "{size} totes", count),
    "drum": lambda count: ngettext("{size} drum", "{size} drums", count),
    "pail": lambda count: ngettext("{size} pail", "{size} pails", count),
    "jug": lambda count: ngettext("{size} jug", "{size} jugs", count),
}


def package_words(name: str, count: int) -> str:
    """``265 gal totes`` as read by whom it is for; ``name`` is the one of ``count`` packages."""
    found = None if _is_house_s() else _PACKAGE.fullmatch(name)
    if found is None:
        return str(_NAMES.get(name, name)) if not _is_house_s() else name
    size = reader().volume(float(found["gal"]), 0)
    words = _KINDS[found["kind"]](count).format(size=size)
    if found["deposit"]:
        words = _("{package} on deposit").format(package=words)
    return _("customer's own {package}").format(package=words) if found["own"] else words


def payment_words(terms: str) -> str:
    """``net 30 days``; what stands behind it stays as it was typed."""
    found = None if _is_house_s() else _NET.fullmatch(terms.strip())
    if found is None:
        return terms
    days = int(found["days"])
    words = ngettext("net {days} day", "net {days} days", days)
    return words.format(days=reader().number(days, 0)) + found["rest"]


def _is_house_s() -> bool:
    return get_language() == house_choice().code
