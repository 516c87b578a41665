"""What a phrase of a line can mean, and what has to be asked back."""

from __future__ import annotations

from dataclasses import dataclass
from decimal import Decimal
from enum import StrEnum
from typing import TypeAlias


class Unit(StrEnum):
    """What a blend leaves in."""

    TOTE = "tote"
    DRUM = "drum"
    PAIL = "pail"
    BULK = "bulk"


@dataclass(frozen=True, slots=True)
class Content:
    """Limits in percent by weight of a composition key; of ``SLOW_RELEASE``, of total N."""

    key: str
    low_pct: float | None = None
    high_pct: float | None = None


@dataclass(frozen=True, slots=True)
class Packages:
    """So many packages; ``size_gal`` only where it was said."""

    count: int
    unit: Unit
    size_gal: float | None = None


@dataclass(frozen=True, slots=True)
class Gallons:
    gal: float


@dataclass(frozen=True, slots=True)
class Pounds:
    lb: float


@dataclass(frozen=True, slots=True)
class LeavesIn:
    """In what the gallons leave: ``in bulk``, ``in totes``."""

    unit: Unit


@dataclass(frozen=True, slots=True)
class NitrogenRate:
    lb_per_1000sqft: float


@dataclass(frozen=True, slots=True)
class SprayVolume:
    """``is_assumed`` where only "low volume" was said."""

    gal_per_1000sqft: float
    is_assumed: bool = False


@dataclass(frozen=True, slots=True)
class SprayTank:
    gal: float


@dataclass(frozen=True, slots=True)
class AirTemperature:
    f: float


@dataclass(frozen=True, slots=True)
class Without:
    """Nothing of a source; a key of ``sources.SOURCES`` or the code of a stock."""

    source: str


@dataclass(frozen=True, slots=True)
class SprayedIn:
    """The state it is sprayed in, by its two letters."""

    state: str


@dataclass(frozen=True, slots=True)
class LegalWhereSprayed:
    """The law where it is sprayed is to hold."""


@dataclass(frozen=True, slots=True)
class PriceAtMost:
    """A price that is not to be exceeded, for a gallon or a package."""

    dollars: Decimal
    per: str


@dataclass(frozen=True, slots=True)
class Delivered:
    """The price is to include the delivery."""


Meaning: TypeAlias = (
    Content
    | Packages
    | Gallons
    | Pounds
    | LeavesIn
    | NitrogenRate
    | SprayVolume
    | SprayTank
    | AirTemperature
    | Without
    | SprayedIn
    | LegalWhereSprayed
    | PriceAtMost
    | Delivered
)


class Ask(StrEnum):
    """What has to be asked back before a line means one thing."""

    HOW_MUCH = "how_much"
    WHICH_MICROS = "which_micros"
    HOW_MANY = "how_many"
    PAIL_SIZE = "pail_size"
    DECIMAL = "decimal"
    GRADE = "grade"
    FRACTION = "fraction"
    ABOUT = "about"
    SLOW_SHARE = "slow_share"
    SLOW_N = "slow_n"
    RATE_OR_MASS = "rate_or_mass"
    PRICE_PER = "price_per"
    TWICE = "twice"


@dataclass(frozen=True, slots=True)
class Choice:
    """Words that would settle a question, put in place of those that raised it."""

    words: str
    source: str = ""


@dataclass(frozen=True, slots=True)
class Said:
    """A phrase that was understood; ``start`` and ``end`` are places in the line."""

    meaning: Meaning
    words: str
    start: int
    end: int


@dataclass(frozen=True, slots=True)
class Question:
    """A phrase that can mean several things, or lacks a figure.

    ``about`` is a composition key, ``SLOW_RELEASE``, a ``Unit`` or what was said twice.
    """

    ask: Ask
    words: str
    start: int
    end: int
    about: str = ""
    choices: tuple[Choice, ...] = ()


@dataclass(frozen=True, slots=True)
class Unclear:
    """Words that mean nothing here; ``has_figure`` if a number is among them."""

    words: str
    start: int
    end: int
    has_figure: bool
