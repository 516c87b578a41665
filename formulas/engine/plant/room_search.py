"""Weights of one recipe with a given tolerance, and the largest tolerance there is room for."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final

import numpy as np

from formulas.engine.blend.highs import Floats
from formulas.engine.density import specific_volumes_gal_per_lb
from formulas.engine.plant.boxes import Boxes
from formulas.engine.plant.guards import Guard, limit_guards
from formulas.engine.plant.load import Heel, LoadQuestion, ScaleKind
from formulas.engine.plant.load_recipe import LoadRecipe
from formulas.engine.plant.print_aim import PrintAim, Slack
from formulas.engine.plant.room_program import (
    FEWEST_DIVISIONS,
    MOST_NODES,
    Settled,
    Weighings,
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


@dataclass(frozen=True, slots=True)
class Scale:
    """What one stock is weighed on: its division and the most it takes, lb."""

    kind: ScaleKind
    division_lb: float
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
        start, short_gal = self._start(asked, tau), 0.0
        for _ in range(_VOLUME_ROUNDS):
            found = None if start is None else self._whole(start, tau)
            if found is None:
                return None
            short = asked.least_gal - found.boxes.least_gal()
            if short <= _NOISE * asked.least_gal:
                fits = found.boxes.most_gal() <= asked.most_gal * (1.0 + _NOISE)
                return found if fits and self._keeps(found, asked) else None
            # Volumes are those of the weights before: a little more makes up for the change.
            short_gal += 1.5 * short
            start = self._start(asked, tau, short_gal)
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

    def _start(self, asked: Asked, tau: float, short_gal: float = 0.0) -> _Start | None:
        """Settled weights; for a label, aimed so high that the printed forms add up."""
        if not asked.prints_total or self._print_aim is None:
            return self._settled(asked, tau, short_gal, [])
        slack, near = Slack(), None
        for _ in range(_AIM_ROUNDS):
            aims = self._print_aim.aimed_higher(self._recipe.stocks, slack)
            start = self._settled(asked, tau, short_gal, aims, near)
            if start is None:
                return None
            near = start.near
            least, _ = self._boxes(start, start.near.k, start.near.m).extremes_pct()
            missing = self._print_aim.missing(least)
            if missing.is_none:
                lines = self._print_aim.lines(self._recipe.stocks, least)
                return self._settled(asked, tau, short_gal, lines, near) or start
            slack = slack.and_more(missing)
        return None

    def _settled(
        self,
        asked: Asked,
        tau: float,
        short_gal: float,
        aims: Sequence[Guard],
        near: Settled | None = None,
    ) -> _Start | None:
        """Settled weights on scales that take them, with the volumes of this very blend."""
        stocks, lb = self._recipe.stocks, None
        shares = self._recipe.shares()
        found: _Start | None = None
        for _ in range(_SCALE_ROUNDS):
            load = self._weighings(asked, tau, short_gal, aims, shares, lb)
            near = settled(load, tau, near)
            if near is None and np.isfinite(load.most_lb).any():
                load = self._weighings(asked, tau, short_gal, aims, shares, lb, only_main=True)
                near = settled(load, tau)
            if near is None:
                return None
            scales = tuple(
                Scale(_kind(most), float(d), float(most))
                for d, most in zip(load.division_lb, load.most_lb, strict=True)
            )
            before, found = found, _Start(load, scales, near)
            lb = near.k * load.division_lb
            mass = float(lb.sum())
            shares = tuple(
                Share(stock.code, 100.0 * float(w) / mass)
                for stock, w in zip(stocks, lb, strict=True)
            )
            if before is not None and _is_same(before, found):
                break
            if before is None and self._stands(load, shares, lb, tau):
                break
        return found

    def _stands(self, load: Weighings, shares: Sequence[Share], lb: Floats, tau: float) -> bool:
        """Whether weights just found have the volumes and scales they were found with."""
        return bool(
            np.allclose(self._gal_per_lb(shares), load.gal_per_lb, rtol=1e-9, atol=0.0)
            and [scale.division_lb for scale in self._scales(lb, tau)] == list(load.division_lb)
        )

    def _weighings(
        self,
        asked: Asked,
        tau: float,
        short_gal: float,
        aims: Sequence[Guard],
        shares: Sequence[Share],
        lb: Floats | None,
        *,
        only_main: bool = False,
    ) -> Weighings:
        heel = self._question.heel
        standing = 0.0 if heel is None else heel.volume_gal
        gal = asked.least_gal - standing
        gal_per_lb = self._gal_per_lb(shares)
        parts = self._recipe.pct / 100.0
        recipe_lb = parts * (gal / (float(parts @ gal_per_lb) * (1.0 - tau)))
        scales = self._scales(recipe_lb if lb is None else lb, tau, only_main=only_main)
        return Weighings(
            division_lb=np.array([scale.division_lb for scale in scales]),
            most_lb=np.array([scale.most_lb for scale in scales]),
            guards=[*self._guards, *aims],
            aimed=self._aimed,
            cost_per_lb=self._cost_per_lb,
            gal_per_lb=gal_per_lb,
            recipe_lb=recipe_lb,
            least_gal=gal + short_gal,
            most_gal=asked.most_gal - standing,
        )

    def _gal_per_lb(self, shares: Sequence[Share]) -> Floats:
        volumes = specific_volumes_gal_per_lb(self._by_code, shares)
        found: Floats = np.array([volumes[stock.code] for stock in self._recipe.stocks])
        return found / self._question.density_correction

    def _scales(self, lb: Floats, tau: float, *, only_main: bool = False) -> list[Scale]:
        """The fine scale for what it takes with its tolerance, the main one for the rest."""
        scale = self._question.scale
        fine = None if only_main else scale.fine
        scales = []
        for stock, weight in zip(self._recipe.stocks, lb, strict=True):
            main = stock.scale_step_lb if scale.step_lb is None else scale.step_lb
            chosen = Scale(ScaleKind.MAIN, main)
            if fine is not None and fine.step_lb < main:
                least = max(float(weight), FEWEST_DIVISIONS * fine.step_lb)
                if least + max(fine.step_lb, tau * least) <= fine.max_lb:
                    chosen = Scale(ScaleKind.FINE, fine.step_lb, fine.max_lb)
            scales.append(chosen)
        return scales

    def _whole(self, start: _Start, tau: float) -> WithRoom | None:
        found = whole(start.load, tau, start.near, self._most_nodes)
        if found is None:
            return None
        boxes = self._boxes(start, found.k, found.m)
        # What the solver says is not what counts: the printed weights are.
        if any(boxes.least(guard) < -NOISE_PCT for guard in start.load.guards):
            return None
        return WithRoom(boxes, start.scales, tau, found.gap)

    def _keeps(self, found: WithRoom, asked: Asked) -> bool:
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
    fixed = {
        limit.code
        for limit in problem.stock_limits
        if limit.min_pct is not None and limit.min_pct == limit.max_pct
    }

    def is_aimed(guard: Guard) -> bool:
        return guard.limit.kind is WishKind.STOCK_LIMIT and guard.limit.key in fixed

    return (
        [guard for guard in guards if not is_aimed(guard)],
        [guard for guard in guards if is_aimed(guard)],
    )


def _kind(most_lb: float) -> ScaleKind:
    return ScaleKind.FINE if math.isfinite(most_lb) else ScaleKind.MAIN


def _is_same(before: _Start, now: _Start) -> bool:
    same_scales = [scale.division_lb for scale in before.scales] == [
        scale.division_lb for scale in now.scales
    ]
    return same_scales and np.allclose(
        before.load.gal_per_lb, now.load.gal_per_lb, rtol=1e-9, atol=0.0
    )
