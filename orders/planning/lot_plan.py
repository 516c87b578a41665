"""A load planned with the certificates of the lots it is weighed from.

How many pounds of a stock are needed decides from which lots they come, and what those lots hold
decides how many pounds are needed. Lots are chosen, the load is planned with their figures, and
again while the weights ask for other lots; a few rounds at most.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, replace
from typing import Final

from formulas.engine.composition import content_pct
from formulas.engine.plant.load import LoadQuestion, LoadScale, LoadStep, PlannedLoad
from formulas.engine.plant.with_room import plan_with_room
from formulas.engine.problem import Stock
from orders.planning.lot_choice import LotOnHand, Supply, choose_lots, dealt_out, mixed
from orders.planning.lot_spread import LotRoom, Spread, spread_of

_ROUNDS: Final = 8
#: Room is made for somewhat more than the last round needed, so that the next one fits into it.
_AHEAD: Final = 1.25


class LotsDoNotSettle(Exception):
    """Every plan asked for other lots than the one before: lots too different for this load."""


@dataclass(frozen=True, slots=True)
class LotPlan:
    """The weights of a load, from where each comes, and what is sure of each content."""

    question: LoadQuestion
    load: PlannedLoad
    supplies: Mapping[str, Supply]
    least_pct: Mapping[str, float]

    @property
    def stocks(self) -> tuple[Stock, ...]:
        """The stocks at the figures they were planned with."""
        return self.question.problem.stocks


def plan_from_lots(
    stocks: Sequence[Stock],
    needs_lb: Mapping[str, float],
    lots: Mapping[str, Sequence[LotOnHand]],
    ask: Callable[[Sequence[Stock]], LoadQuestion],
) -> LotPlan:
    """The load that ``ask`` asks for, with stocks at their lots' figures.

    ``stocks`` have the typical figures, ``needs_lb`` roughly what is needed of each and ``lots``
    what is on hand, each by stock code. Raises as ``plan_with_room`` does, or LotsDoNotSettle.
    """
    needs = dict(needs_lb)
    off: dict[str, float] = {}
    for _round in range(_ROUNDS):
        tried = _Try.of(stocks, needs, lots, ask, off)
        load = plan_with_room(tried.room.drawn_in(tried.question))
        supplies = {step.code: tried.dealt(step) for step in load.steps}
        off = {step.code: step.tolerance_lb + tried.shift(step) for step in load.steps}
        if tried.suits(load, supplies, off):
            return LotPlan(tried.question, load, supplies, tried.room.least_pct(load))
        # Never less than was needed before, or two choices would follow each other for ever.
        needs |= {
            step.code: max(needs[step.code], step.weight_lb + step.tolerance_lb)
            for step in load.steps
        }
        off = {code: lb * _AHEAD for code, lb in off.items()}
    raise LotsDoNotSettle


@dataclass(frozen=True, slots=True)
class _Try:
    """One choice of lots and the question it makes."""

    needs_lb: Mapping[str, float]
    chosen: Mapping[str, tuple[LotOnHand, ...]]
    planned: Mapping[str, Supply]
    spreads: tuple[Spread, ...]
    question: LoadQuestion
    room: LotRoom

    @classmethod
    def of(
        cls,
        stocks: Sequence[Stock],
        needs_lb: Mapping[str, float],
        lots: Mapping[str, Sequence[LotOnHand]],
        ask: Callable[[Sequence[Stock]], LoadQuestion],
        off_lb: Mapping[str, float],
    ) -> _Try:
        scale = ask(stocks).scale
        chosen, planned, with_figures = {}, {}, []
        for stock in stocks:
            need = needs_lb[stock.code]
            division = _division_lb(scale, stock, need)
            chosen[stock.code] = choose_lots(lots.get(stock.code, ()), need, division_lb=division)
            supply = dealt_out(chosen[stock.code], need, division_lb=division)
            planned[stock.code] = supply
            density, analysis = mixed(
                supply, density_lb_per_gal=stock.density_lb_per_gal, analysis=stock.analysis
            )
            with_figures.append(replace(stock, density_lb_per_gal=density, analysis=analysis))
        question = ask(with_figures)
        spreads = tuple(_spreads(question, stocks, with_figures, planned, needs_lb, off_lb))
        mass = sum(needs_lb.values())
        n_pct = sum(needs_lb[s.code] * content_pct(s.analysis, "N") for s in with_figures) / mass
        room = LotRoom.of(spreads, mass, n_pct)
        return cls(needs_lb, chosen, planned, spreads, question, room)

    def dealt(self, step: LoadStep) -> Supply:
        """The planned weight over the lots that were chosen for it."""
        return dealt_out(self.chosen[step.code], step.weight_lb, division_lb=step.division_lb)

    def shift(self, step: LoadStep) -> float:
        """How far the weight is from the need its figures were mixed for; nothing of one lot."""
        return abs(step.weight_lb - self.needs_lb[step.code])

    def suits(
        self, load: PlannedLoad, supplies: Mapping[str, Supply], off_lb: Mapping[str, float]
    ) -> bool:
        """Whether the lots give the weights, and limits were drawn in far enough for them."""
        for step in load.steps:
            before, now = self.planned[step.code], supplies[step.code]
            if now.typical_lb > 0 and not before.typical_lb:
                return False
            most_lb = step.weight_lb + step.tolerance_lb
            free = sum(lot.free_lb for lot in self.chosen[step.code])
            if len(self.chosen[step.code]) == 1 and not now.typical_lb and free < most_lb:
                return False
        needed = tuple(each.off_by(off_lb.get(each.code, 0.0)) for each in self.spreads)
        lightest = load.net_weight_lb - sum(step.tolerance_lb for step in load.steps)
        n_pct = load.least_pct.get("N", 0.0)
        return self.room.holds(LotRoom.of(needed, lightest, n_pct))


def _spreads(
    question: LoadQuestion,
    typical: Sequence[Stock],
    with_figures: Sequence[Stock],
    planned: Mapping[str, Supply],
    needs_lb: Mapping[str, float],
    off_lb: Mapping[str, float],
) -> list[Spread]:
    slow = question.problem.slow_release
    shares = [] if slow is None else [s for s in (slow.min_pct, slow.max_pct) if s is not None]
    spreads = []
    for before, stock in zip(typical, with_figures, strict=True):
        parts = [lot.analysis for lot in planned[stock.code].lots]
        if planned[stock.code].typical_lb > 0:
            parts.append(before.analysis)
        if len(parts) > 1:
            tolerance = needs_lb[stock.code] * question.tolerance_pct / 100
            guess = 2 * max(tolerance, _division_lb(question.scale, stock, needs_lb[stock.code]))
            off = off_lb.get(stock.code, guess)
            spreads.append(spread_of(stock.code, stock.analysis, parts, shares, off))
    return spreads


def _division_lb(scale: LoadScale, stock: Stock, weight_lb: float) -> float:
    if scale.fine is not None and weight_lb <= scale.fine.max_lb:
        return scale.fine.step_lb
    return scale.step_lb or stock.scale_step_lb
