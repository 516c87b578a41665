"""From a content to the digits of a guarantee: read once, then only ever rounded down.

A content is read in millionths of a percent, the precision in which a formulation states its
analysis. ``NOISE`` millionths more count as being there, because a solver's 24 may arrive as
23.9999999 or, form by form, as 23.999998. That is all that is ever rounded up.

Zeros at the end, one rule for every label: primary nutrients and nitrogen forms drop them (the
10 % with 1.5 % water insoluble nitrogen of WAC 16-200-721(4)); secondary and micronutrients keep
the digits in which 355 IAC 2-1-5 and 250-RICR-40-20-10.3 print their least guarantees (Ca 1.00,
Mg 0.50, Fe 0.10, Co 0.0005, Ni 0.0010); ingredients that are no plant nutrient keep theirs
likewise (common practice, no source).
"""

from __future__ import annotations

from decimal import ROUND_FLOOR, Decimal
from typing import Final

from formulas.engine.label.rules import MINIMUMS, OTHER_DECIMALS

#: Decimals in which a content is read.
READ_DECIMALS: Final = 6
ONE_PERCENT: Final = 10**READ_DECIMALS
#: Millionths of a percent that five forms, each rounded to millionths, may be short of their sum.
NOISE: Final = 2
#: The most by which a printed figure can exceed a content, percent: reading and noise together.
PRECISION_PCT: Final = (NOISE + 0.5) / ONE_PERCENT
#: Net contents are printed to tenths.
NET_DECIMALS: Final = 1


def read(pct: float) -> int:
    """A content in millionths of a percent."""
    return round(pct * ONE_PERCENT)


def step(decimals: int) -> int:
    """The last printed digit in millionths."""
    return int(10 ** (READ_DECIMALS - decimals))


def read_form(pct: float) -> int:
    """A nitrogen form in millionths; a hundredth that only noise keeps it from counts as reached.

    Snapped once here, so that the same form cannot print more in one number of decimals than
    in another.
    """
    millionths, hundredth = read(pct), step(2)
    above = -(-millionths // hundredth) * hundredth
    return above if above - millionths <= NOISE else millionths


def floored(millionths: int, decimals: int) -> int:
    """Rounded down to a printed digit, noise aside; in millionths."""
    return (millionths + NOISE) // step(decimals) * step(decimals)


def digits(millionths: int) -> Decimal:
    """The figure without trailing zeros: 24000000 is 24, 6700000 is 6.7."""
    return trimmed(Decimal(millionths).scaleb(-READ_DECIMALS))


def trimmed(pct: Decimal) -> Decimal:
    """Without trailing zeros after the point: 24.00 is 24, 6.70 is 6.7, 20 stays 20."""
    return Decimal(int(pct)) if pct == int(pct) else pct.normalize()


def as_printed(key: str, pct: Decimal) -> Decimal:
    """A figure of a line with the zeros that line prints: iron 0.1 is 0.10, nitrogen 24.0 is 24.

    A finer figure keeps its digits.
    """
    whole = key.split(".")[0]
    if whole in MINIMUMS:
        decimals = MINIMUMS[whole].decimals
    elif whole in OTHER_DECIMALS:
        decimals = OTHER_DECIMALS[whole]
    else:
        decimals = 0
    plain = trimmed(pct)
    last_digit = Decimal(1).scaleb(-decimals)
    padded = plain.quantize(last_digit, rounding=ROUND_FLOOR)
    return padded if padded == plain else plain


def guaranteed(key: str, millionths: int) -> Decimal:
    """A printed figure in millionths as its line prints it."""
    return as_printed(key, digits(millionths))


def net(amount: float) -> Decimal:
    """Net contents rounded down to tenths, so that a package never holds less than it says.

    Read in millionths first: 2,835.4999999996 is 2,835.5 computed in floats.
    """
    last_digit = Decimal(1).scaleb(-NET_DECIMALS)
    return digits(read(amount)).quantize(last_digit, rounding=ROUND_FLOOR)


def text(pct: Decimal) -> str:
    """Plain digits with a zero before the point (Wis. Adm. Code ATCP 40.10(5)(a))."""
    return f"{pct:f}"
