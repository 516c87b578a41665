"""By how much a stock's cost moves, per pound, whatever unit it is bought in; large moves asked.

Whoever enters a cost, by whichever way, says once that a large move is right: the action refuses it
until it is called with the words of the refusal.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from decimal import Decimal
from typing import Final

from django.utils.translation import gettext as _

from blendshop.errors import DomainError
from blendshop.money import unit_price
from blendshop.snapshot import Snapshot
from formulas.models import BaseStock, StockCost

#: A cost that moves further than this either way is asked about once (common practice, no source).
LARGE_MOVE_PCT: Final = Decimal(25)


@dataclass(frozen=True, slots=True)
class CostMove(Snapshot):
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


class LargeCostMoves(DomainError):
    """Costs that move far; nothing is written until ``sure_of`` is sent with them."""

    code = "large_cost_moves"
    status = 409

    def __init__(self, moves: Sequence[CostMove]) -> None:
        self.moves = tuple(moves)
        self.sure_of = sure_words(moves)
        super().__init__(
            _(
                "Nothing is saved yet. These costs move by more than {pct} percent a pound:"
                " {moves}. If they are right, send them again with sure set to “{sure}”."
            ).format(
                pct=LARGE_MOVE_PCT,
                moves=", ".join(f"{move.code} {move.old} → {move.new}" for move in moves),
                sure=self.sure_of,
            )
        )


def cost_move(stock: BaseStock, old: StockCost | None, amount: Decimal, unit: str) -> CostMove:
    """From an entry of the stock, or none, to what is typed."""
    new = StockCost(stock=stock, amount=amount, unit=unit).per_lb()
    return CostMove(stock.code, stock.name, None if old is None else old.per_lb(), new)


def large_among(moves: Iterable[CostMove]) -> tuple[CostMove, ...]:
    """Those that are asked about."""
    return tuple(move for move in moves if move.is_large)


def sure_words(moves: Iterable[CostMove]) -> str:
    """What a yes to these moves refers to; another cost is asked about again."""
    return ", ".join(f"{move.code} {move.new_per_lb.normalize():f}" for move in moves)


def ask_about(moves: Iterable[CostMove], sure_of: str) -> None:
    """LargeCostMoves unless ``sure_of`` is a yes to every large one of them."""
    large = large_among(moves)
    if large and sure_words(large) != sure_of:
        raise LargeCostMoves(large)
