"""Weights of one recipe with a given tolerance, and the largest tolerance there is room for."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from fractions import Fraction
from typing import Final

import numpy as np

from formulas.engine.blend.programs import Floats
from formulas.engine.density import specific_volumes_gal_per_lb
from formulas.engine.plant.boxes import Boxes
from formulas.engine.plant.guards import Guard, limit_guards
from formulas.engine.plant.load import Heel, LoadQuestion, ScaleKind
from formulas.engine.plant.load_recipe import LoadRecipe
from formulas.engine.plant.print_aim import PrintAim, Slack, moved, printed_forms
from formulas.engine.plant.room_program import (
    FEWEST_DIVISIONS,
    MOST_NODES,
    Settled,
    Weighings,
    best_lines,
    cost_of,
    pounds,
    settled,
    whole,
)
from formulas.engine.problem import BlendProblem, Stock
from formulas.engine.result import Share
from formulas.engine.wishes import WishId, WishKind

#: Percentage points by which a promise may be missed after weighing: float noise only.
NOISE_PCT: Final = 1e-9
_NOISE: Final = 1e-9
#: Tolerances are searched and stated in hundredths of a percent.
_GRID: Final = 1e-4
#: Rounds in which scales, volumes and aims are brought into line with the weights.
_SCALE_ROUNDS: Final = 4
_AIM_ROUNDS: Final = 6
_VOLUME_ROUNDS: Final = 4
#: Volumes per pound that differ less (relatively) are the same blend's: together they are off by
#: the square of that, because partial volumes change against each other.
_SAME: Final = 1e-4
#: A change of volume is made up for by so much of it.
_AND_MORE: Final = 1.5
#: Divisions in a weight; beyond them floats and whole numbers of the solver part.
_MOST_COUNTED: Final = 1e7


@dataclass(frozen=True, slots=True)
class Scale:
    """What one stock is weighed on: its division and the most it takes, lb.

    ``counted_lb`` is the division, or a power of ten of it, in which weights are counted.
    """

    kind: ScaleKind
    division_lb: float
    counted_lb: float
    most_lb: float = math.inf


@dataclass(frozen=True, slots=True)
class Asked:
    """What a try asks for: the volume in the tank on target, and a label that prints its total."""

    least_gal: float
    most_gal: float
    prints_total: bool


@dataclass(frozen=True, slots=True)
class WithRoom:
    """Weights that keep everything, checked; ``tau`` is the relative tolerance."""

    boxes: Boxes
    scales: tuple[Scale, ...]
    tau: float
    gap: float


@dataclass(frozen=True, slots=True)
class _Start:
    """Settled weights on their scales, and the guards they keep."""

    load: Weighings
    scales: tuple[Scale, ...]
    near: Settled


class RoomSearch:
    """One recipe of one load while weights with room are looked for."""

    def __init__(
        self,
        question: LoadQuestion,
        recipe: LoadRecipe,
        *,
        most_nodes: int = MOST_NODES,
        without: frozenset[WishId] = frozenset(),
    ) -> None:
        self._question, self._recipe, self._most_nodes = question, recipe, most_nodes
        guards = guards_of(question.promised, recipe.stocks, question.heel)
        self._guards, self._aimed = _apart(
            question.promised, [guard for guard in guards if guard.limit not in without]
        )
        self._print_aim = PrintAim.of(question)
        self._by_code = {stock.code: stock for stock in recipe.stocks}
        self._cost_per_lb = np.array([stock.cost_per_lb for stock in recipe.stocks])

    def may_have_room(self, asked: Asked, tau: float = 0.0) -> bool:
        """Whether weights that need not be whole have room ``tau``."""
        return self._start(asked, tau) is not None

    def weighed(self, asked: Asked, tau: float) -> WithRoom | None:
        """Whole weights with room ``tau``, None if none are found."""
        aimed = asked
        for _ in range(_VOLUME_ROUNDS):
            start = self._start(aimed, tau)
            found = None if start is None else self._whole(start, tau)
            if found is None:
                return None
            # Volumes are those of the weights before: a little more makes up for the change.
            short = asked.least_gal - found.boxes.least_gal()
            over = found.boxes.most_gal() - asked.most_gal
            if max(short, over) <= _NOISE * asked.least_gal:
                return found if self._prints(found, asked) else None
            aimed = replace(
                aimed,
                least_gal=aimed.least_gal + _AND_MORE * max(0.0, short),
                most_gal=aimed.most_gal - _AND_MORE * max(0.0, over),
            )
        return None

    def most_room(self, asked: Asked, wanted: float) -> WithRoom | None:
        """Weights with the wanted room, or with the most that is found below it."""
        found = self.weighed(asked, wanted)
        if found is not None or not self.may_have_room(asked):
            return found
        low, high = 0, math.ceil(wanted / _GRID - _NOISE)
        while high - low > 1:
            middle = (low + high) // 2
            if self.may_have_room(asked, middle * _GRID):
                low = middle
            else:
                high = middle
        for steps in dict.fromkeys((low, low - 1, low - 2, low * 3 // 4, low // 2, low // 4, 0)):
            if 0 <= steps * _GRID < wanted or steps == 0:
                found = self.weighed(asked, steps * _GRID)
                if found is not None:
                    return found
        return None

    def _start(self, asked: Asked, tau: float) -> _Start | None:
        """Settled weights; for a label, aimed so high that the printed forms add up."""
        if not asked.prints_total or self._print_aim is None:
            return self._settled(asked, tau, [])
        slack = Slack()
        for _ in range(_AIM_ROUNDS):
            aims = self._print_aim.aimed_higher(self._recipe.stocks, slack)
            start = self._settled(asked, tau, aims, is_rough=True)
            if start is None:
                return None
            least, _ = self._boxes(start, start.near.k, start.near.m).extremes_pct()
            missing = self._print_aim.missing(least)
            if missing.is_none:
                return self._printing(asked, tau, self._print_aim, start, printed_forms(least))
            slack = slack.and_more(missing)
        return None

    def _printing(
        self, asked: Asked, tau: float, aim: PrintAim, start: _Start, printed: Mapping[str, float]
    ) -> _Start:
        """Weights that keep printed lines that add up: those found, or the cheapest near them."""
        stocks = self._recipe.stocks
        best = self._settled(asked, tau, aim.lines(stocks, printed)) or start
        free = replace(best.load, guards=self._guards)
        moves = best_lines(free, tau, best.near, aim.movable(stocks, printed))
        if moves is None or not moves.any():
            return best
        other = self._settled(asked, tau, aim.lines(stocks, moved(printed, moves)))
        if other is None or cost_of(other.load, other.near) >= cost_of(best.load, best.near):
            return best
        return other

    def _settled(
        self, asked: Asked, tau: float, aims: Sequence[Guard], *, is_rough: bool = False
    ) -> _Start | None:
        """Settled weights on scales that take them, with the volumes of this very blend."""
        gal_per_lb = self._gal_per_lb(self._recipe.shares())
        scales = self._scales(self._recipe_lb(asked, tau, gal_per_lb), tau)
        found: _Start | None = None
        for _ in range(_SCALE_ROUNDS):
            load = self._weighings(asked, tau, aims, gal_per_lb, scales)
            near = settled(load, tau, is_rough=is_rough)
            if near is None and any(scale.kind is ScaleKind.FINE for scale in scales):
                scales = self._scales(load.recipe_lb, tau, only_main=True)
                load = self._weighings(asked, tau, aims, gal_per_lb, scales)
                near = settled(load, tau)
            if near is None:
                return None
            found = _Start(load, scales, near)
            lb = near.k * load.division_lb
            before, gal_per_lb = gal_per_lb, self._gal_per_lb(_shares(self._recipe.stocks, lb))
            on, scales = scales, self._scales(lb, tau)
            if scales == on and np.allclose(gal_per_lb, before, rtol=_SAME, atol=0.0):
                break
        return found

    def _weighings(
        self,
        asked: Asked,
        tau: float,
        aims: Sequence[Guard],
        gal_per_lb: Floats,
        scales: Sequence[Scale],
    ) -> Weighings:
        return Weighings(
            division_lb=np.array([scale.counted_lb for scale in scales]),
            most_lb=np.array([scale.most_lb for scale in scales]),
            guards=[*self._guards, *aims],
            aimed=self._aimed,
            cost_per_lb=self._cost_per_lb,
            may_cost_more=self._question.problem.strongest is not None,
            gal_per_lb=gal_per_lb,
            recipe_lb=self._recipe_lb(asked, tau, gal_per_lb),
            least_gal=asked.least_gal - self._standing_gal,
            most_gal=asked.most_gal - self._standing_gal,
            may_grow=self._question.may_grow,
        )

    @property
    def _standing_gal(self) -> float:
        heel = self._question.heel
        return 0.0 if heel is None else heel.volume_gal

    def _recipe_lb(self, asked: Asked, tau: float, gal_per_lb: Floats) -> Floats:
        """The recipe in pounds, so that it fills the tank at the light end of its tolerance."""
        parts: Floats = self._recipe.pct / 100.0
        gal = (asked.least_gal - self._standing_gal) / (1.0 - tau)
        return parts * (gal / float(parts @ gal_per_lb))

    def _gal_per_lb(self, shares: Sequence[Share]) -> Floats:
        volumes = specific_volumes_gal_per_lb(self._by_code, shares)
        found: Floats = np.array([volumes[stock.code] for stock in self._recipe.stocks])
        return found / self._question.density_correction

    def _scales(self, lb: Floats, tau: float, *, only_main: bool = False) -> tuple[Scale, ...]:
        """The fine scale for what it takes with its tolerance, the main one for the rest."""
        scale = self._question.scale
        fine = None if only_main else scale.fine
        scales = []
        for stock, weight in zip(self._recipe.stocks, map(float, lb), strict=True):
            main = stock.scale_step_lb if scale.step_lb is None else scale.step_lb
            chosen = Scale(ScaleKind.MAIN, main, _counted(main, weight))
            if fine is not None and fine.step_lb < main:
                counted = _counted(fine.step_lb, weight)
                least = max(weight, FEWEST_DIVISIONS * counted)
                if least + max(counted, tau * least) <= fine.max_lb:
                    chosen = Scale(ScaleKind.FINE, fine.step_lb, counted, fine.max_lb)
            scales.append(chosen)
        return tuple(scales)

    def _whole(self, start: _Start, tau: float) -> WithRoom | None:
        found = whole(start.load, tau, start.near, self._most_nodes)
        if found is None:
            return None
        boxes = self._boxes(start, found.k, found.m)
        # What the solver says is not what counts: the printed weights are.
        if any(boxes.least(guard) < -NOISE_PCT for guard in start.load.guards):
            return None
        return WithRoom(boxes, start.scales, tau, found.gap)

    def _prints(self, found: WithRoom, asked: Asked) -> bool:
        if not asked.prints_total or self._print_aim is None:
            return True
        least, _ = found.boxes.extremes_pct()
        return self._print_aim.missing(least).is_none

    def _boxes(self, start: _Start, k: Floats, m: Floats) -> Boxes:
        d = start.load.division_lb
        is_whole = bool((k == np.round(k)).all())
        return Boxes(
            stocks=self._recipe.stocks,
            weight_lb=pounds(k, d) if is_whole else k * d,
            tolerance_lb=pounds(m, d) if is_whole else m * d,
            heel=self._question.heel,
            density_correction=self._question.density_correction,
        )


def guards_of(problem: BlendProblem, stocks: Sequence[Stock], heel: Heel | None) -> list[Guard]:
    """Every limit of the problem over the weights of these stocks beside the heel."""
    if heel is None:
        return limit_guards(problem, stocks)
    return limit_guards(problem, stocks, heel.mass_lb, heel.analysis)


def _apart(problem: BlendProblem, guards: Sequence[Guard]) -> tuple[list[Guard], list[Guard]]:
    """Guards to be kept with room, and those of fixed shares: no box fits between equal limits."""
    fixed = _fixed_shares(problem)
    kept: list[Guard] = []
    aimed: list[Guard] = []
    for guard in guards:
        of_share = guard.limit.kind in (WishKind.STOCK_LIMIT, WishKind.OWN_LIMIT)
        (aimed if of_share and guard.limit.key in fixed else kept).append(guard)
    return kept, aimed


def _fixed_shares(problem: BlendProblem) -> set[str]:
    """Codes whose least share, of all its limits, is their largest."""
    least = {stock.code: stock.min_pct for stock in problem.stocks}
    most = {stock.code: stock.max_pct for stock in problem.stocks}
    for limit in problem.stock_limits:
        if limit.min_pct is not None:
            least[limit.code] = max(least[limit.code], limit.min_pct)
        if limit.max_pct is not None:
            most[limit.code] = min(most[limit.code], limit.max_pct)
    return {code for code, pct in least.items() if pct >= most[code] > 0}


def _counted(division_lb: float, weight_lb: float) -> float:
    """The division itself, or so many tens of it that a weight is no more than can be counted."""
    tens = max(0, math.ceil(math.log10(weight_lb / (_MOST_COUNTED * division_lb))))
    # Through fractions: a power of ten of 0.0001 must not have binary crumbs.
    return float(Fraction(str(division_lb)) * 10**tens)


def _shares(stocks: Sequence[Stock], lb: Floats) -> tuple[Share, ...]:
    mass = float(lb.sum())
    return tuple(
        Share(stock.code, 100.0 * float(w) / mass) for stock, w in zip(stocks, lb, strict=True)
    )
