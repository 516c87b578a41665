"""Why a load cannot be weighed so that everything promised holds: data, no words."""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum

from formulas.engine.problem import BlendProblem, Stock
from formulas.engine.wishes import WishId


@dataclass(frozen=True, slots=True)
class Amount:
    """How much is to be made, in pounds or gallons, and how far off it may be."""

    asked: float
    unit: str
    tolerance_pct: float


@dataclass(frozen=True, slots=True)
class CoarseStep:
    """A weighing whose scale is too coarse: its division, and the largest one that would do.

    ``code`` None: for no stock alone, but for all of them together.
    """

    code: str | None
    division_lb: float
    finer_lb: float


@dataclass(frozen=True, slots=True)
class NarrowWindow:
    """A window between two limits of one figure that no box of weights fits into.

    ``limit`` is the maximum (or the minimum) that would have to move, ``asked`` its figure and
    ``nearest`` the nearest one that can be made, all else kept; ``other`` the figure of the
    opposite limit, None if there is none.
    """

    limit: WishId
    asked: float
    nearest: float
    other: float | None


class Obstacle(StrEnum):
    """What is in the way: the weighing, the wish whatever is weighed, or what is in the tank."""

    WEIGHING = "weighing"
    WISH = "wish"
    HEEL = "heel"


class NotWeighable(ValueError):
    """No whole scale steps keep every guarantee.

    ``cannot_hold`` are the limits of ``problem`` that are in the way, ``amount`` the amount if it
    is; ``coarsest`` is the stock with the coarsest step where finer ones would do, None where
    none would. ``coarse_steps`` and ``windows`` say for a load what would have to be finer or
    wider; for any other ``obstacle`` than the weighing the limits cannot hold together at all.
    """

    def __init__(
        self,
        problem: BlendProblem,
        cannot_hold: tuple[WishId, ...],
        amount: Amount | None,
        coarsest: Stock | None,
        *,
        coarse_steps: tuple[CoarseStep, ...] = (),
        windows: tuple[NarrowWindow, ...] = (),
        obstacle: Obstacle = Obstacle.WEIGHING,
    ) -> None:
        self.problem, self.cannot_hold = problem, cannot_hold
        self.amount, self.coarsest = amount, coarsest
        self.coarse_steps, self.windows, self.obstacle = coarse_steps, windows, obstacle
        super().__init__(f"No whole scale steps keep {cannot_hold} and {amount}.")
