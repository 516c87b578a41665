"""A meaning in words that the grammar reads back as the same meaning."""

from __future__ import annotations

from decimal import Decimal
from functools import singledispatch

from formulas.engine.composition import SLOW_RELEASE
from formulas.spoken_wish.meanings import (
    AirTemperature,
    Content,
    Delivered,
    Gallons,
    LeavesIn,
    LegalWhereSprayed,
    Meaning,
    NitrogenRate,
    Packages,
    Pounds,
    PriceAtMost,
    SprayedIn,
    SprayTank,
    SprayVolume,
    Unit,
    Without,
)
from formulas.spoken_wish.states import STATES
from formulas.spoken_wish.vocabulary import NAMES


def number(value: float) -> str:
    """Digits without an exponent: ``0.00005``, ``24``."""
    text = format(Decimal(repr(float(value))), "f")
    return text.rstrip("0").rstrip(".") if "." in text else text


@singledispatch
def say(meaning: Meaning) -> str:
    """``24 % nitrogen``, ``at most 3 % potash``, ``2 275 gal totes``."""
    raise TypeError(meaning)


@say.register
def _content(meaning: Content) -> str:
    low, high, name = meaning.low_pct, meaning.high_pct, NAMES[meaning.key]
    of = "% of N" if meaning.key == SLOW_RELEASE else "%"
    if high is None:
        return f"{number(low or 0.0)} {of} {name}"
    if low is None:
        return f"at most {number(high)} {of} {name}" if high else f"no {name}"
    if low == high:
        return f"exactly {number(low)} {of} {name}"
    return f"{number(low)} to {number(high)} {of} {name}"


@say.register
def _packages(meaning: Packages) -> str:
    unit = meaning.unit.value + ("" if meaning.count == 1 else "s")
    size = "" if meaning.size_gal is None else f"{number(meaning.size_gal)} gal "
    return f"{meaning.count} {size}{unit}"


@say.register
def _gallons(meaning: Gallons) -> str:
    return f"{number(meaning.gal)} gal"


@say.register
def _pounds(meaning: Pounds) -> str:
    return f"{number(meaning.lb)} lb"


@say.register
def _leaves_in(meaning: LeavesIn) -> str:
    return "in bulk" if meaning.unit is Unit.BULK else f"in {meaning.unit.value}s"


@say.register
def _rate(meaning: NitrogenRate) -> str:
    return f"{number(meaning.lb_per_1000sqft)} lb N per 1,000 sq ft"


@say.register
def _spray(meaning: SprayVolume) -> str:
    if meaning.is_assumed:
        return "low volume"
    return f"{number(meaning.gal_per_1000sqft)} gal per 1,000 sq ft"


@say.register
def _tank(meaning: SprayTank) -> str:
    return f"{number(meaning.gal)} gal spray tank"


@say.register
def _air(meaning: AirTemperature) -> str:
    return f"{number(meaning.f)} degrees F"


@say.register
def _without(meaning: Without) -> str:
    return f"no {meaning.source}"


@say.register
def _state(meaning: SprayedIn) -> str:
    return f"for {STATES[meaning.state].title()}"


@say.register
def _legal(_: LegalWhereSprayed) -> str:
    return "legal where I spray"


@say.register
def _price(meaning: PriceAtMost) -> str:
    dollars = format(meaning.dollars, "f")
    return f"under ${dollars} a {'gallon' if meaning.per == 'gal' else meaning.per}"


@say.register
def _delivered(_: Delivered) -> str:
    return "delivered"
