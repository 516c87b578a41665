"""What is in a tank as it was written down: state, amount, analysis, stocks and batches in it."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field, replace
from enum import StrEnum
from typing import Final

from blendshop.snapshot import Snapshot
from orders.frozen.load_plan import FrozenStock

#: Less of an earlier batch or stock than the ledgers write, half a thousandth of a pound, is none.
#: Without it a tank that is never rinsed would drag along every batch it has ever held.
LEAST_LB: Final = 0.0005
#: Code of what a person found and named without its stocks.
STATED_CODE: Final = "STATED"


class TankState(StrEnum):
    """What a tank may be used for. Only an empty tank or a heel can be charged onto."""

    UNKNOWN = "unknown"
    EMPTY = "empty"
    HEEL = "heel"
    CHARGING = "charging"
    BATCH = "batch"


@dataclass(frozen=True, slots=True, kw_only=True)
class HeldStock(FrozenStock):
    """A stock's share of the tank, percent by weight, with the figures it was charged by."""

    pct: float


@dataclass(frozen=True, slots=True)
class HeldBatch(Snapshot):
    """So many pounds of what was charged for a batch, and their ``share`` of all of it (0 to 1).

    A heel counts for the batches it came from, so the pounds of all batches add up to the tank,
    but for what was of no batch of ours.
    """

    number: str
    lb: float
    share: float


@dataclass(frozen=True, slots=True, kw_only=True)
class TankContents(Snapshot):
    """``TankEntry.contents``. ``analysis`` in percent by weight, keys as of a stock, without N.

    ``basis`` says where the amount comes from. While a batch is being charged, these are the
    contents it was begun on.
    """

    state: TankState
    product: str = ""
    mass_lb: float = 0.0
    volume_gal: float = 0.0
    density_lb_per_gal: float | None = None
    analysis: Mapping[str, float] = field(default_factory=dict)
    stocks: tuple[HeldStock, ...] = ()
    batches: tuple[HeldBatch, ...] = ()
    basis: str = ""

    @property
    def is_known(self) -> bool:
        return self.state is not TankState.UNKNOWN

    @property
    def is_occupied(self) -> bool:
        """Whether a batch is in it that has not been filled or drained."""
        return self.state in (TankState.CHARGING, TankState.BATCH)

    @property
    def knows_stocks(self) -> bool:
        """Whether the rules of what may meet can be read for all of it."""
        return all(stock.code != STATED_CODE for stock in self.stocks)

    def heel_of_lb(self, mass_lb: float, basis: str) -> TankContents:
        """So many pounds of it that stay: the same liquid, everything in proportion.

        A tank that drained dry keeps its stocks, by which the rules judge what is on its walls.
        """
        share = mass_lb / self.mass_lb if self.mass_lb > 0 else 0.0
        return replace(
            self,
            state=TankState.HEEL,
            mass_lb=mass_lb,
            volume_gal=share * self.volume_gal,
            stocks=tuple(
                stock
                for stock in self.stocks
                if not mass_lb or stock.pct / 100 * mass_lb >= LEAST_LB
            ),
            batches=tuple(
                HeldBatch(each.number, share * each.lb, share * each.share)
                for each in self.batches
                if share * each.lb >= LEAST_LB
            ),
            basis=basis,
        )
