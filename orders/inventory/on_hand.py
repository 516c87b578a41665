"""Stock on hand only: the wish limited by what is in the tanks and not reserved.

Shares are limited as if the blend were as heavy as the densest stock there is, so the answer
never needs more than there is, and may leave a little.
"""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import date
from decimal import Decimal
from typing import Final

from django.utils.translation import gettext as _

from formulas.answers.wish import StockLimit
from formulas.engine_bridge import Catalogue
from orders.inventory.levels import limits_from_stock
from orders.models import StockLot

#: Limits are cut to so many decimals, downwards: more would only be noise in the wish.
_STEPS: Final = 1000.0


@dataclass(frozen=True, slots=True)
class OnHand:
    """``limits`` is percent by weight by stock code, ``absent`` stocks of which nothing is free.

    ``names`` is the name of each stock by its code.
    """

    limits: Mapping[str, float]
    absent: tuple[str, ...]
    names: Mapping[str, str]
    keeps_lots: bool

    def bounding(self, used_pct: Mapping[str, float]) -> tuple[str, ...]:
        """Stocks of a recipe of which it takes all that there is, in words."""
        return tuple(
            _("{stock}, {limit} % of this order at most").format(
                stock=self.names[code], limit=format(limit, "g")
            )
            for code, limit in self.limits.items()
            if used_pct.get(code, 0.0) > limit - 1.5 / _STEPS
        )

    @property
    def limited_words(self) -> tuple[str, ...]:
        return tuple(f"{self.names[code]} {limit:g} %" for code, limit in self.limits.items())

    @property
    def absent_words(self) -> tuple[str, ...]:
        return tuple(self.names[code] for code in self.absent)


def on_hand(
    catalogue: Catalogue,
    volume_gal: float,
    today: date,
    *,
    spoken_for: Mapping[str, Decimal] | None = None,
) -> OnHand:
    """What the tanks allow in an order of so many gallons; nothing bounds while no lots are kept.

    Water from the main and whatever there is enough of stand in neither list. ``spoken_for`` is
    what else is to be made of them beside the orders, pounds by stock code.
    """
    names = catalogue.names
    if not StockLot.objects.exists():
        return OnHand({}, (), names, keeps_lots=False)
    limits: dict[str, float] = {}
    absent = []
    for limit in limits_from_stock(catalogue, volume_gal, today, spoken_for=spoken_for):
        pct = math.floor(limit["max_pct"] * _STEPS) / _STEPS
        if pct > 0:
            limits[limit["code"]] = pct
        else:
            absent.append(limit["code"])
    return OnHand(limits, tuple(absent), names, keeps_lots=True)


def with_on_hand(
    found: OnHand, limits: Sequence[StockLimit], exclude: Sequence[str]
) -> tuple[list[StockLimit], list[str]]:
    """The typed limits and exclusions, tightened to what there is; new limits come behind."""
    kept = [
        replace(limit, max_pct=_least(limit.max_pct, found.limits.get(limit.code)))
        for limit in limits
        if limit.code not in found.absent
    ]
    typed = {limit.code for limit in kept}
    kept += [
        StockLimit(code, max_pct=pct)
        for code, pct in found.limits.items()
        if code not in typed and code not in exclude
    ]
    return kept, sorted({*exclude, *found.absent})


def _least(*figures: float | None) -> float | None:
    return min((figure for figure in figures if figure is not None), default=None)
