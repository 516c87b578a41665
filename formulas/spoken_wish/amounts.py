"""How much to make, and what goes onto a lawn: packages, gallons, pounds, rates.

The unit decides what a number is: ``530 gallons`` are gallons, ``2 gal per thousand`` a spray
volume, ``0.7 lb N`` a rate.
"""

from __future__ import annotations

from collections.abc import Mapping
from typing import Final

from formulas.engine.units import LB_PER_TON, SQFT_PER_ACRE, SQFT_PER_RATE_AREA
from formulas.spoken_wish.cursor import Cursor
from formulas.spoken_wish.figures import ONE, Figure, take_figure
from formulas.spoken_wish.meanings import (
    AirTemperature,
    Ask,
    Choice,
    Gallons,
    LeavesIn,
    NitrogenRate,
    Packages,
    Pounds,
    SprayTank,
    SprayVolume,
    Unit,
)
from formulas.spoken_wish.names import take_content
from formulas.spoken_wish.phrases import Asked, Found, Rule, Senseless, tried
from formulas.spoken_wish.saying import say
from formulas.spoken_wish.vocabulary import (
    GALLONS,
    PACKAGES,
    POUNDS,
    SINGULAR,
    SOME,
    TONS,
    TRUCKLOAD,
)

#: Sizes that are said without "gallon", common practice, no source: ``two 275 totes``.
_SIZES: Final[Mapping[Unit, frozenset[int]]] = {
    Unit.TOTE: frozenset({250, 264, 265, 270, 275, 300, 330}),
    Unit.DRUM: frozenset({30, 50, 55}),
    Unit.PAIL: frozenset({5}),
}
_EACH: Final = ("/", "per", "a", "an", "each", "every", "on", "to the")
_RATE_AREA: Final = ("1000", "1,000", "one thousand", "thousand", "m", "1 m", "k")
_SQFT: Final = (
    "square feet", "square foot", "sq ft", "sq feet", "sq . ft .", "sq . ft", "sqft", "ft2",
    "square ft", "feet", "ft",
)  # fmt: skip
_ACRE: Final = ("1 acre", "acres", "acre", "ac")
_N: Final = ("of actual n", "actual n", "of nitrogen", "of n", "nitrogen", "n")
#: What goes onto 1,000 sq ft is less than this, and nobody buys so little of a blend.
_FEW_LB: Final = 20.0
_FEW_GAL: Final = 10.0
_SPRAY_WORDS: Final = (
    "spray volume of", "spray volume", "carrier volume", "carrier of", "carrier", "spray at",
    "sprays at", "sprayed at", "spraying at", "applied at", "apply at", "applying at",
)  # fmt: skip
_RATE_WORDS: Final = ("n rate of", "n rate", "nitrogen rate of", "nitrogen rate")


def packages(cursor: Cursor) -> Found | None:
    """``4 totes``, ``two 275-gallon totes``, ``a tote``; without a whole number it is asked."""
    begin = cursor.at
    if cursor.take_phrase(*SOME):
        unit, _ = _unit(cursor)
        return None if unit is None else _how_many(unit)
    counts = _counts(cursor)
    cursor.take("x", "of")
    size = _size(cursor)
    unit, is_one = _unit(cursor)
    if unit is None and len(counts) == 1 and size is None:
        # "275 gal tote": the only number is the size.
        cursor.at = begin
        counts, size = [], _size(cursor)
        unit, is_one = _unit(cursor)
        counts = [ONE] if is_one and size is not None else []
    if unit is None:
        return None
    if size is None and is_one and len(counts) == 1 and counts[0].value in _SIZES[unit]:
        return _size_or_count(int(counts[0].value), unit)
    return _packed(counts, unit, size)


def _size_or_count(number: int, unit: Unit) -> Asked:
    """``265 tote``: one of that size, or so many?"""
    gal = float(number)
    offered = (Packages(1, unit, gal), Packages(2, unit, gal), Packages(number, unit))
    return Asked(Ask.HOW_MANY, unit, tuple(Choice(say(each)) for each in offered))


def _packed(counts: list[Figure], unit: Unit, size: Figure | None) -> Found:
    if size is not None and (size.is_unsure or size.value <= 0):
        return Senseless()
    count = counts[0] if len(counts) == 1 else None
    if count is None or count.value.denominator != 1 or count.is_unsure or count.value <= 0:
        return _how_many(unit, size)
    if count.is_part or count.value > 1_000_000:
        return _how_many(unit, size)
    if unit is Unit.PAIL and size is None:
        return Asked(Ask.PAIL_SIZE, unit, _pails(int(count.value)))
    gal = None if size is None else size.number
    return (Packages(int(count.value), unit, gal),)


def _how_many(unit: Unit, size: Figure | None = None) -> Asked:
    gal = None if size is None else size.number
    if unit is Unit.PAIL and gal is None:
        return Asked(Ask.HOW_MANY, unit)
    return Asked(
        Ask.HOW_MANY,
        unit,
        tuple(Choice(say(Packages(count, unit, gal))) for count in (1, 2, 4)),
    )


def _pails(count: int) -> tuple[Choice, ...]:
    """Pails of 5 gal are common; common practice, no source."""
    return (Choice(say(Packages(count, Unit.PAIL, 5.0)), "common practice, no source"),)


def _counts(cursor: Cursor) -> list[Figure]:
    """One number, two with "to" between, none."""
    begin = cursor.at
    first = take_figure(cursor)
    if first is None:
        return [ONE] if cursor.take("a", "an", "another") else []
    if first.is_part:
        cursor.take_phrase("of a", "of an", "a", "an")
    after = cursor.at
    if cursor.take("-", "to", "or"):
        second = take_figure(cursor)
        if second is not None and cursor.text in PACKAGES:
            return [first, second]
    cursor.at = after
    if cursor.text == "-":
        cursor.at = begin
        return []
    return [first]


def _size(cursor: Cursor) -> Figure | None:
    begin = cursor.at
    figure = take_figure(cursor)
    if figure is not None and cursor.take(*GALLONS) and cursor.text in PACKAGES:
        return figure
    unit = PACKAGES.get(cursor.text)
    if figure is not None and unit is not None and figure.value in _SIZES[unit]:
        return figure
    cursor.at = begin
    return None


def _unit(cursor: Cursor) -> tuple[Unit | None, bool]:
    word = cursor.text
    unit = PACKAGES.get(word)
    cursor.at += unit is not None
    return unit, word in SINGULAR


def leaves_in(cursor: Cursor) -> Found | None:
    """``in bulk``, ``in totes``, ``a truckload``: a count or the gallons stand elsewhere."""
    if cursor.take_phrase("in bulk", "bulk"):
        return (LeavesIn(Unit.BULK),)
    if cursor.take("in", "into"):
        unit, is_one = _unit(cursor)
        return None if unit is None or is_one else (LeavesIn(unit),)
    _counts(cursor)
    if cursor.take_phrase("full truckload", "full truck load", *TRUCKLOAD):
        return Asked(Ask.HOW_MANY, "truckload")
    return None


def gallons(cursor: Cursor) -> Found | None:
    """Gallons to make, in a spray tank, or of spray on an area."""
    is_spray = bool(cursor.take_phrase(*_SPRAY_WORDS))
    figure = take_figure(cursor)
    if figure is None and not is_spray:
        cursor.take("a", "one")
        figure = ONE
        if not (cursor.take(*GALLONS) and _area(cursor)):
            return None
        return (SprayVolume(1.0),)
    if figure is None:
        return None
    if figure.is_part:
        cursor.take_phrase("of a", "a")
    if cursor.take("k"):
        return Senseless() if cursor.take(*GALLONS, *PACKAGES) else None
    if not cursor.take(*GALLONS):
        return None
    if figure.is_unsure or figure.value <= 0:
        return Senseless()
    return _gallons(cursor, figure.number, is_spray=is_spray)


def _gallons(cursor: Cursor, gal: float, *, is_spray: bool) -> Found:
    cursor.take_phrase("of spray", "of mix", "of carrier", "of solution")
    area = _area(cursor)
    if area:
        return (SprayVolume(_per_rate_area(gal, area)),)
    if is_spray or cursor.take_phrase("carrier", "spray volume"):
        return (SprayVolume(gal),)
    if cursor.take_phrase("spray tank", "sprayer tank", "tank", "sprayer", "spray rig", "rig"):
        return (SprayTank(gal),)
    if gal < _FEW_GAL:
        return Asked(Ask.RATE_OR_MASS, "gal", (Choice(say(SprayVolume(gal))),))
    return (Gallons(gal),)


def pounds(cursor: Cursor) -> Found | None:
    """``2000 lb`` to make; ``0.7 lb N`` on 1,000 sq ft; pounds of anything else mean nothing."""
    figure = take_figure(cursor) or _a_ton(cursor)
    if figure is None:
        return None
    if figure.is_part:
        cursor.take_phrase("of a", "a")
    is_tons = cursor.take(*TONS)
    if not is_tons and not cursor.take(*POUNDS):
        return None
    if figure.value <= 0:
        return Senseless()
    if is_tons:
        return Senseless() if figure.is_unsure else (Pounds(figure.number * LB_PER_TON),)
    if not figure.is_unsure:
        return _pounds(cursor, figure.number)
    found = _pounds(cursor, figure.with_point.number)
    if isinstance(found, tuple):
        return Asked(Ask.DECIMAL, "", tuple(Choice(say(meaning)) for meaning in found))
    return found


def _a_ton(cursor: Cursor) -> Figure | None:
    behind = cursor.peek(1)
    if behind is not None and behind.text == "ton" and cursor.take("a"):
        return ONE
    return None


def _pounds(cursor: Cursor, lb: float) -> Found:
    is_nitrogen = bool(cursor.take_phrase(*_N))
    area = _area(cursor)
    if not is_nitrogen and area:
        is_nitrogen = bool(cursor.take_phrase(*_N))
        if not is_nitrogen:
            rate = NitrogenRate(_per_rate_area(lb, area))
            return Asked(Ask.RATE_OR_MASS, "lb", (Choice(say(rate)),))
    if is_nitrogen:
        return (NitrogenRate(_per_rate_area(lb, area or SQFT_PER_RATE_AREA)),)
    begin = cursor.at
    cursor.take_phrase("of")
    if take_content(cursor):
        return Senseless()
    cursor.at = begin
    if lb < _FEW_LB:
        return Asked(Ask.RATE_OR_MASS, "lb", (Choice(say(NitrogenRate(lb))),))
    return (Pounds(lb),)


def nitrogen_rate(cursor: Cursor) -> Found | None:
    """``N rate 0.7``, ``N at 0.7 lb``."""
    is_rate = bool(cursor.take_phrase(*_RATE_WORDS))
    if not is_rate and not cursor.take_phrase("nitrogen at", "n at"):
        return None
    cursor.take(":", "=", "is", "at")
    figure = take_figure(cursor)
    if figure is None or not (cursor.take(*POUNDS) or is_rate):
        return None
    cursor.take_phrase(*_N)
    if figure.is_unsure or figure.value <= 0:
        return Senseless()
    return (NitrogenRate(_per_rate_area(figure.number, _area(cursor) or SQFT_PER_RATE_AREA)),)


def air_temperature(cursor: Cursor) -> Found | None:
    """``85 degrees``, in Fahrenheit."""
    figure = take_figure(cursor)
    if figure is None or not cursor.take("degrees", "degree", "deg", "°", "f"):
        return None
    if cursor.take("c", "celsius", "centigrade"):
        return Senseless()
    cursor.take("f", "fahrenheit")
    return Senseless() if figure.with_comma else (AirTemperature(figure.number),)


def lawn_area(cursor: Cursor) -> Found | None:
    """An area says nothing of a blend by itself."""
    if take_figure(cursor) and (cursor.take_phrase(*_ACRE) or cursor.take_phrase(*_SQFT)):
        return Senseless()
    return None


#: In this order: the longer phrase first.
AMOUNT_RULES: Final[tuple[Rule, ...]] = (
    packages, leaves_in, nitrogen_rate, gallons, pounds, air_temperature, lawn_area,
)  # fmt: skip


def is_amount(cursor: Cursor) -> bool:
    """Whether a number here has a unit of its own; the cursor stays."""
    begin = cursor.at
    found = any(tried(cursor, rule) is not None for rule in AMOUNT_RULES)
    cursor.at = begin
    return found


def _area(cursor: Cursor) -> float:
    """The area a rate is stated for, sq ft; 0 where none is."""
    begin = cursor.at
    if cursor.take_phrase(*_EACH):
        if cursor.take_phrase(*_ACRE):
            return SQFT_PER_ACRE
        if cursor.take_phrase(*_RATE_AREA):
            cursor.take_phrase(*_SQFT)
            return SQFT_PER_RATE_AREA
    cursor.at = begin
    return 0.0


def _per_rate_area(amount: float, area_sqft: float) -> float:
    return round(amount * SQFT_PER_RATE_AREA / area_sqft, 4)
