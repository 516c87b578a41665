"""Which limit of a question is meant: a typed identity, carried by every answer about it.

Words for a limit are made above the engine, from its identity and the question
(``formulas.wording``); nothing is ever found by its words.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from enum import StrEnum
from typing import Final, TypeVar

from formulas.engine.problem import BlendProblem, NutrientWish, SlowReleaseWish, StockLimit

#: Key of the slowly available share of total nitrogen, beside the composition keys.
SLOW_RELEASE: Final = "slow_release_pct"

_Limited = TypeVar("_Limited", NutrientWish, SlowReleaseWish, StockLimit)


class WishKind(StrEnum):
    """Where a limit of a question comes from."""

    __hash__ = str.__hash__  # that of its text; an enum's own is Python, and asked for constantly

    NUTRIENT = "nutrient"
    SLOW_RELEASE = "slow_release"
    STOCK_LIMIT = "stock_limit"
    MOST_STOCKS = "most_stocks"
    #: What the stocks of a gallon may cost.
    COST_PER_GAL = "cost_per_gal"
    OWN_LIMIT = "own_limit"
    LEFT_OUT = "left_out"
    SMALLEST_CHARGE = "smallest_charge"
    RULE = "rule"
    #: A minimum raised by a margin, above the largest that is allowed.
    AIM = "aim"


class Side(StrEnum):
    """Whether a limit bounds from below or from above."""

    __hash__ = str.__hash__

    LEAST = "min"
    MOST = "max"


#: Wishes a person may give up; the others are facts of the stocks or of chemistry.
SOFT_KINDS: Final = frozenset(
    {
        WishKind.NUTRIENT,
        WishKind.SLOW_RELEASE,
        WishKind.STOCK_LIMIT,
        WishKind.MOST_STOCKS,
        WishKind.COST_PER_GAL,
    }
)


@dataclass(frozen=True, slots=True)
class WishId:
    """One side of one limit.

    ``index`` is its position in the problem's tuple of that kind (wishes, stock limits, rules;
    for an aim the wish whose maximum it is above, None if that is 100 %); None for kinds that
    occur once. ``key`` is the nutrient, the code of the stock, or empty.
    """

    kind: WishKind
    side: Side
    key: str = ""
    index: int | None = None

    @property
    def is_soft(self) -> bool:
        """Whether a person may give it up."""
        return self.kind in SOFT_KINDS

    @property
    def at_least(self) -> bool:
        """Whether it is a lower limit."""
        return self.side is Side.LEAST


def asked_of(problem: BlendProblem, wish: WishId) -> float | None:
    """The figure of a limit in the wish's unit (percent, stocks, $ per gal); None without one."""
    limited = _limited(problem, wish)
    if limited is not None:
        return limited.min_pct if wish.at_least else limited.max_pct
    if wish.kind is WishKind.MOST_STOCKS:
        return problem.most_stocks
    if wish.kind is WishKind.COST_PER_GAL and problem.cost_ceiling is not None:
        return problem.cost_ceiling.max_per_gal
    if wish.kind is WishKind.SMALLEST_CHARGE:
        return problem.smallest_charge_pct
    if wish.kind is WishKind.OWN_LIMIT:
        stock = next(stock for stock in problem.stocks if stock.code == wish.key)
        return stock.min_pct if wish.at_least else stock.max_pct
    if wish.kind is WishKind.AIM:
        return max(_minima(problem, wish.key), default=None)
    return None


def largest_of(problem: BlendProblem, wish: WishId) -> float:
    """The largest percentage an aim is above: the maximum it meets, or all there is."""
    if wish.index is None:
        return 100.0
    slow = problem.slow_release if wish.key == SLOW_RELEASE else None
    found = problem.wishes[wish.index].max_pct if slow is None else slow.max_pct
    return 100.0 if found is None else found


def relaxed_problem(problem: BlendProblem, moves: Sequence[tuple[WishId, float]]) -> BlendProblem:
    """The problem with each of the (soft) wishes moved to its new figure."""
    for wish, to in moves:
        if wish.kind is WishKind.NUTRIENT and wish.index is not None:
            wishes = list(problem.wishes)
            wishes[wish.index] = _moved(wishes[wish.index], wish, to)
            problem = replace(problem, wishes=tuple(wishes))
        elif wish.kind is WishKind.STOCK_LIMIT and wish.index is not None:
            limits = list(problem.stock_limits)
            limits[wish.index] = _moved(limits[wish.index], wish, to)
            problem = replace(problem, stock_limits=tuple(limits))
        elif wish.kind is WishKind.SLOW_RELEASE and problem.slow_release is not None:
            problem = replace(problem, slow_release=_moved(problem.slow_release, wish, to))
        elif wish.kind is WishKind.MOST_STOCKS:
            problem = replace(problem, most_stocks=round(to))
        elif wish.kind is WishKind.COST_PER_GAL and problem.cost_ceiling is not None:
            ceiling = replace(problem.cost_ceiling, max_per_gal=to)
            problem = replace(problem, cost_ceiling=ceiling)
        else:
            raise ValueError(f"{wish} is not a wish that can be given up.")
    return problem


def _limited(
    problem: BlendProblem, wish: WishId
) -> NutrientWish | SlowReleaseWish | StockLimit | None:
    if wish.kind is WishKind.NUTRIENT and wish.index is not None:
        return problem.wishes[wish.index]
    if wish.kind is WishKind.STOCK_LIMIT and wish.index is not None:
        return problem.stock_limits[wish.index]
    return problem.slow_release if wish.kind is WishKind.SLOW_RELEASE else None


def _minima(problem: BlendProblem, key: str) -> list[float]:
    wishes: list[NutrientWish | SlowReleaseWish] = [
        wish for wish in problem.wishes if wish.nutrient == key
    ]
    if key == SLOW_RELEASE and problem.slow_release is not None:
        wishes.append(problem.slow_release)
    return [wish.min_pct for wish in wishes if wish.min_pct is not None]


def _moved(limited: _Limited, wish: WishId, to: float) -> _Limited:
    if wish.at_least:
        return replace(limited, min_pct=to)
    return replace(limited, max_pct=to)
