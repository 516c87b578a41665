"""Standing sentences that papers share, and the house's name block."""

from __future__ import annotations

from typing import Final

from django.utils.translation import gettext, gettext_noop

from blendshop.figures.readers import reader
from orders.records.written import ENGLISH, Written

#: Where this software stops: stated on every paper that someone may act on. English on labels and
#: on the plant's own papers.
DEFERENCE: Final = gettext_noop(
    "Local codes, the product's SDS and label, and the judgement of licensed practitioners come"
    " before anything printed here."
)


def deference() -> str:
    """``DEFERENCE`` in the language that is being written."""
    return gettext(DEFERENCE)


def translated(written: Written | None) -> list[str]:
    """What a paper says of its own translation; nothing in English or once it was checked."""
    if written is None or written.language == ENGLISH.language or written.checked_by:
        return []
    return [
        gettext(
            "Translated by the plant and not checked by a person yet: the English text decides."
            " It is kept with this paper; ask for it."
        )
    ]


def slow_release(pct_of_n: float | None) -> str:
    """The slow-release share in words; empty for a blend without nitrogen."""
    if pct_of_n is None:
        return ""
    return f"{reader().content(pct_of_n)} of N slow release"


def against(limit_pct: float, found_pct: float, *, is_most: bool = False) -> tuple[str, str]:
    """A guarantee (or a maximum) and what was found, in as few places as tell the truth, 2 to 4.

    A guarantee of 0.035 is not printed as 0.04, 23.998 found of 24 not as 24.00, and 3.002 found
    of 3 at most not as 3.00.
    """
    is_kept = found_pct <= limit_pct if is_most else found_pct >= limit_pct
    for places in (2, 3, 4):
        limit, found = (reader().number(pct, places) for pct in (limit_pct, found_pct))
        is_exact = abs(round(limit_pct, places) - limit_pct) < 1e-9
        if is_exact and (is_kept or found != limit):
            break
    return limit, found
