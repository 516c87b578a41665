"""Why a load cannot be weighed so that everything promised holds: data, no words."""

from __future__ import annotations

from dataclasses import dataclass

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

    ``finer_lb`` None: a finer scale for this stock alone would not do.
    """

    code: str
    division_lb: float
    finer_lb: float | None


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


class NotWeighable(ValueError):
    """No whole scale steps keep every guarantee.

    ``cannot_hold`` are the limits of ``problem`` that are in the way, ``amount`` the amount if it
    is; ``coarsest`` is the stock with the coarsest step where finer ones would do, None where
    none would. ``coarse_steps`` and ``windows`` say for a load what would have to be finer or
    wider.
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
    ) -> None:
        self.problem, self.cannot_hold = problem, cannot_hold
        self.amount, self.coarsest = amount, coarsest
        self.coarse_steps, self.windows = coarse_steps, windows
        super().__init__(f"No whole scale steps keep {cannot_hold} and {amount}.")
