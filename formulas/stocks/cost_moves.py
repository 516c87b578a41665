"""By how much a stock's cost moves, per pound, whatever unit it is bought in."""

from __future__ import annotations

from dataclasses import dataclass
from decimal import Decimal
from typing import Final

from blendshop.money import unit_price

#: A cost that moves further than this either way is asked about once (common practice, no source).
LARGE_MOVE_PCT: Final = Decimal(25)


@dataclass(frozen=True, slots=True)
class CostMove:
    """Dollars per pound, unrounded; ``old_per_lb`` is None where the stock has no cost today."""

    code: str
    name: str
    old_per_lb: Decimal | None
    new_per_lb: Decimal

    @property
    def old(self) -> Decimal | None:
        """The old cost per pound as it is shown."""
        return None if self.old_per_lb is None else unit_price(self.old_per_lb)

    @property
    def new(self) -> Decimal:
        """The new cost per pound as it is shown."""
        return unit_price(self.new_per_lb)

    @property
    def pct(self) -> Decimal | None:
        """The move in percent of the old cost; None where there was none, or it was 0."""
        if not self.old_per_lb:
            return None
        return (self.new_per_lb - self.old_per_lb) / self.old_per_lb * 100

    @property
    def is_large(self) -> bool:
        """Whether it is asked about: beyond 25 % either way, or a cost where it was free."""
        if self.old_per_lb is None:
            return False
        return self.new_per_lb != 0 if self.pct is None else abs(self.pct) > LARGE_MOVE_PCT
