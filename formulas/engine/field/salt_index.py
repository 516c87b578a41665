"""Salt index of a blend as the sum of the partial salt indexes of its stocks.

The salt index (sodium nitrate = 100) ranks materials by their osmotic effect; it gives no safe
rate. A stock's part is

    share / 100 x (percent of the named nutrients in the stock) x (salt index per unit)

one unit being 1 percent (20 lb per ton). Source: Mortvedt 2001, salt index of liquid
fertilizers. Stocks without a published factor are named as not assessed; they never count as
zero, so the sum is then only a lower bound.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass

from formulas.engine.composition import content_pct
from formulas.engine.problem import Stock
from formulas.engine.result import Share

#: Shares below this do not count as present, percent by weight.
_PRESENT_PCT = 1e-9


@dataclass(frozen=True, slots=True)
class SaltFactor:
    """Salt index per unit (1 percent) of the sum of ``nutrients`` in one stock."""

    per_unit: float
    nutrients: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class PartialSaltIndex:
    """What one stock adds; None where no factor is known."""

    code: str
    salt_index: float | None


@dataclass(frozen=True, slots=True)
class BlendSaltIndex:
    """The blend's salt index, or None with the stocks that could not be assessed.

    ``at_least`` is the sum of the known parts.
    """

    salt_index: float | None
    at_least: float
    parts: tuple[PartialSaltIndex, ...]
    not_assessed: tuple[str, ...]


def blend_salt_index(
    shares: Iterable[Share], stocks: Mapping[str, Stock], factors: Mapping[str, SaltFactor]
) -> BlendSaltIndex:
    """Sum the partial salt indexes; water is zero by definition.

    ``stocks`` and ``factors`` are looked up by stock code; a share of an unknown stock is a
    ``KeyError``, a missing factor is "not assessed".

    >>> urea = Stock("U", "urea solution", 9.34, 0.0, {"N.urea": 20.0})
    >>> blend_salt_index([Share("U", 50.0)], {"U": urea}, {"U": SaltFactor(1.618, ("N",))}).at_least
    16.18
    """
    parts = tuple(
        PartialSaltIndex(share.code, _part(share.pct, stocks[share.code], factors))
        for share in shares
        if share.pct > _PRESENT_PCT
    )
    not_assessed = tuple(part.code for part in parts if part.salt_index is None)
    at_least = sum(part.salt_index for part in parts if part.salt_index is not None)
    return BlendSaltIndex(None if not_assessed else at_least, at_least, parts, not_assessed)


def _part(share_pct: float, stock: Stock, factors: Mapping[str, SaltFactor]) -> float | None:
    if stock.is_water:
        return 0.0
    factor = factors.get(stock.code)
    if factor is None:
        return None
    units = sum(content_pct(stock.analysis, nutrient) for nutrient in factor.nutrients)
    return share_pct / 100.0 * units * factor.per_unit
