"""From a content to the digits of a guarantee: read once, then only ever rounded down.

A content is read in millionths of a percent, the precision in which a formulation states its
analysis. ``NOISE`` millionths more count as being there, because a solver's 24 may arrive as
23.9999999 or, form by form, as 23.999998. That is all that is ever rounded up.
"""

from __future__ import annotations

from decimal import Decimal
from typing import Final

#: Decimals in which a content is read.
READ_DECIMALS: Final = 6
ONE_PERCENT: Final = 10**READ_DECIMALS
#: Millionths of a percent that five forms, each rounded to millionths, may be short of their sum.
NOISE: Final = 2
#: The most by which a printed figure can exceed a content, percent: reading and noise together.
PRECISION_PCT: Final = (NOISE + 0.5) / ONE_PERCENT


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
    """The figure as printed, without trailing zeros: 24000000 is 24, 6700000 is 6.7."""
    return trimmed(Decimal(millionths).scaleb(-READ_DECIMALS))


def trimmed(pct: Decimal) -> Decimal:
    """Without trailing zeros after the point: 24.00 is 24, 6.70 is 6.7, 20 stays 20."""
    return Decimal(int(pct)) if pct == int(pct) else pct.normalize()


def text(pct: Decimal) -> str:
    """Plain digits with a zero before the point (Wis. Adm. Code ATCP 40.10(5)(a))."""
    return f"{pct:f}"
