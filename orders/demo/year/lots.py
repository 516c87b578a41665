"""Deliveries over the year with their certificates: two suppliers a stock, one that drifts."""

from __future__ import annotations

import math
from collections import defaultdict
from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from datetime import date
from decimal import Decimal
from random import Random
from typing import Final

from orders.demo import lots as in_stock
from orders.demo.year import calendar

SUPPLIERS: Final = ("Demo supplier North, invented", "Demo supplier Harbor, invented")
CERTIFICATE: Final = "Demo certificate, invented"
RESIDUE: Final = "What was left when the lot was finished. Demo, invented."
#: Deliveries a stock, about; those of little use have fewer.
_DELIVERIES: Final = 26
_LEAST_LB: Final = 60.0
_ROUND_LB: Final = 10
#: What is left today beside what the demo without a year has: something is to be bought.
_LEFT: Final = Decimal("0.35")
#: A certificate's contents beside the typical ones, and their spread: suppliers sell to a minimum.
_ABOVE: Final = 0.009
_SPREAD: Final = 0.0027
#: Content of one stock of the second supplier beside typical, from the first to the last day.
DRIFTS: Final = "TRIAZONE28"
_DRIFT: Final = (0.024, 0.004)
#: How far a density follows the contents, and its own spread.
_DENSITY_FOLLOWS: Final = 0.3
_DENSITY_SPREAD: Final = 0.0006


@dataclass(frozen=True, slots=True)
class Use:
    """Pounds of a stock taken on a day."""

    code: str
    lb: Decimal
    day: date


@dataclass(slots=True)
class Delivery:
    """A lot as it came; ``factor`` is its contents beside typical, ``left_lb`` what is there."""

    code: str
    supplier: int
    received_on: date
    factor: float
    density_factor: float
    used_lb: Decimal = Decimal(0)
    left_lb: Decimal = Decimal(0)
    residue_lb: Decimal = Decimal(0)
    last_used_on: date = date.min
    figures_off: list[float] = field(default_factory=list)

    @property
    def received_lb(self) -> Decimal:
        return self.used_lb + self.left_lb + self.residue_lb

    def pct(self, typical: Mapping[str, float]) -> dict[str, float]:
        """The certificate: percent by weight by key."""
        # Contents that are alike stay so: they come from one salt.
        off = dict(zip(dict.fromkeys(typical.values()), self.figures_off, strict=False))
        return {
            key: round(pct * self.factor * off[pct], 2 if pct >= 1 else 4)
            for key, pct in typical.items()
        }


def deliveries_of(uses: Sequence[Use], today: date, chance: Random) -> list[list[Delivery]]:
    """Of each use the lot it came from, and all lots by the day they came."""
    by_code: dict[str, list[int]] = defaultdict(list)
    for place, use in enumerate(uses):
        by_code[use.code].append(place)
    lot_of: dict[int, Delivery] = {}
    every: list[Delivery] = []
    for code, places in by_code.items():
        for group in _grouped(uses, places):
            lot = _delivered(code, [uses[place] for place in group], today, chance)
            lot_of.update(dict.fromkeys(group, lot))
            every.append(lot)
        newest = every[-1]
        newest.residue_lb = Decimal(0)
        usual = Decimal(in_stock.RECEIVED_LB.get(code, in_stock.USUAL_LB))
        newest.left_lb = round(_LEFT * usual, 0)
    return [
        [lot_of[place] for place in range(len(uses))],
        sorted(every, key=lambda lot: (lot.received_on, lot.code)),
    ]


def _grouped(uses: Sequence[Use], places: Iterable[int]) -> Iterator[list[int]]:
    places = list(places)
    size = max(_LEAST_LB, float(sum(uses[place].lb for place in places)) / _DELIVERIES)
    group: list[int] = []
    for place in places:
        group.append(place)
        if float(sum(uses[each].lb for each in group)) >= size:
            yield group
            group = []
    if group:
        yield group


def _delivered(code: str, uses: Sequence[Use], today: date, chance: Random) -> Delivery:
    used = sum((use.lb for use in uses), Decimal(0))
    whole = Decimal(math.ceil(used / _ROUND_LB) * _ROUND_LB)
    supplier = int(chance.random() < 0.5)
    received_on = calendar.after(uses[0].day, -chance.randint(3, 9))
    factor = 1 + max(0.0015, chance.gauss(_ABOVE + 0.002 * supplier, _SPREAD))
    if code == DRIFTS and supplier == 1:
        first, last = _DRIFT
        gone = 1 - (today - received_on).days / calendar.DAYS
        factor = 1 + first + (last - first) * gone + chance.gauss(0, _SPREAD / 3)
    density = 1 + _DENSITY_FOLLOWS * (factor - 1) + chance.gauss(0, _DENSITY_SPREAD)
    return Delivery(
        code=code,
        supplier=supplier,
        received_on=received_on,
        factor=factor,
        density_factor=density,
        used_lb=used,
        residue_lb=whole - used,
        last_used_on=uses[-1].day,
        figures_off=[1 + chance.gauss(0, 0.0004) for _key in range(6)],
    )
