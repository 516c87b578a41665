"""Scarce stock shared among the open orders: what is asked of the engine and what it proposes.

Asked: every open order line that no batch covers yet, all or nothing, and what is usable in the
lots less what planned batches still take. A recipe may change only where nothing the customer
was told changes with it: the whole wish, the printed grade, the slow-release share in whole
percent, and never more phosphate than before (rules of states turn on it). Every change is
checked again by ``formulas.blends.changed_recipe`` before anybody sees it.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import date
from typing import Final

from django.utils.translation import gettext as _

from blendshop.errors import BadInput
from formulas.blends.changed_recipe import other_recipe
from formulas.contracts.deadline import TooLargeToDecide
from formulas.engine import problem as engine
from formulas.engine.allocation.allocating import (
    AllocationPlan,
    OpenOrder,
    OrderPlan,
    allocate,
    penalty_per_lb,
)
from formulas.engine.allocation.checks import refuse
from formulas.engine.work.effort import TooLarge, TooLate
from formulas.engine_bridge import load_catalogue, saved_rules
from orders.allocation.candidates import (
    Candidate,
    committed_lb,
    engine_stocks,
    open_candidates,
    weighed_today,
    whole,
)
from orders.allocation.recipe_guarantees import guarantees
from orders.inventory.levels import FROM_THE_MAIN, stock_levels
from orders.models import StockLot

#: So often a plan is asked again when a change it proposed does not hold.
_MOST_ROUNDS: Final = 6


@dataclass(frozen=True, slots=True)
class Proposal:
    """A candidate and what the plan does with it."""

    candidate: Candidate
    plan: OrderPlan


@dataclass(frozen=True, slots=True)
class Allocation:
    """The engine's plan of a day, beside what it was asked.

    ``on_hand_lb`` is what the lots can give to lines without a batch; ``committed_lb`` what
    planned batches still take and ``committed_short_lb`` how much of that is not there.
    """

    proposals: tuple[Proposal, ...]
    plan: AllocationPlan | None
    names: Mapping[str, str]
    from_the_main: frozenset[str]
    on_hand_lb: Mapping[str, float]
    committed_lb: Mapping[str, float]
    committed_short_lb: Mapping[str, float]
    keeps_lots: bool


def allocation(today: date) -> Allocation:
    """The proposal of today; nothing is written."""
    candidates = open_candidates()
    committed = committed_lb()
    levels = {level.stock.code: float(level.usable) for level in stock_levels(today)}
    catalogue = load_catalogue(today, include_short=True)
    stocks = engine_stocks(catalogue, candidates)
    main = frozenset(
        stock.code for stock in stocks if FROM_THE_MAIN in stock.traits and stock.code not in levels
    )
    on_hand = {
        stock.code: max(0.0, levels.get(stock.code, 0.0) - committed.get(stock.code, 0.0))
        for stock in stocks
        if stock.code not in main
    }
    asked = Allocation(
        proposals=(),
        plan=None,
        names={stock.code: stock.name for stock in stocks},
        from_the_main=main,
        on_hand_lb=on_hand,
        committed_lb=committed,
        committed_short_lb={
            code: lb - levels.get(code, 0.0)
            for code, lb in committed.items()
            if code not in main and lb - levels.get(code, 0.0) > 0.001
        },
        keeps_lots=StockLot.objects.exists(),
    )
    if not candidates or not asked.keeps_lots:
        return asked
    weighed = weighed_today(candidates, stocks)
    found, plan = _Search(weighed, stocks, on_hand, main, today).run()
    return replace(
        asked,
        plan=plan,
        proposals=tuple(Proposal(c, p) for c, p in zip(found, plan.orders, strict=True)),
    )


class _Search:
    """Ask the engine, check every change it proposes, and ask again without those that fail."""

    def __init__(
        self,
        candidates: Sequence[Candidate],
        stocks: Sequence[engine.Stock],
        on_hand: Mapping[str, float],
        main: frozenset[str],
        today: date,
    ) -> None:
        self.candidates = list(candidates)
        self.stocks = stocks
        self.rules = saved_rules()
        # Not more than everything asked for, so that the solver meets no astronomic figure.
        plenty = 2.0 * sum(candidate.mass_lb for candidate in candidates)
        self.on_hand = dict(on_hand) | dict.fromkeys(main, plenty)
        self.today = today
        self.catalogue = load_catalogue(today)
        # Retired, marked as short or without a cost: what holds them may, nothing else.
        self.closed = frozenset({stock.code for stock in stocks} - set(self.catalogue.names))
        dearest = max(stock.cost_per_lb for stock in stocks)
        self.penalties = [
            penalty_per_lb(dearest, 1.0, (candidate.line.order.due_on - today).days)
            for candidate in candidates
        ]
        self._settle_which_may_change()

    def run(self) -> tuple[list[Candidate], AllocationPlan]:
        """The candidates as they were asked in the end, and the plan of them."""
        for _round in range(_MOST_ROUNDS):
            plan = self._asked()
            # All of them first: every proposed change is looked at in every round.
            objections = [self._objects(index, plan.orders[index]) for index in self._indices()]
            if not any(objections):
                return self.candidates, plan
        for index in self._indices():
            self._fix(index, "No change was found that holds in the batch.")
        return self.candidates, self._asked()

    def _indices(self) -> range:
        return range(len(self.candidates))

    def _asked(self) -> AllocationPlan:
        orders = [self._order(index) for index in self._indices()]
        try:
            return allocate(orders, self.stocks, self.on_hand, self.rules)
        except TooLate:
            raise
        except TooLarge as error:
            raise TooLargeToDecide(
                _(
                    "These are more open orders than one stock plan can be worked out for. Plan"
                    " batches of the most pressing ones, and look at it again."
                )
            ) from error

    def _order(self, index: int) -> OpenOrder:
        candidate = self.candidates[index]
        wishes, slow = guarantees(candidate.revision)
        may_change = not candidate.why_fixed
        return OpenOrder(
            code=candidate.code,
            mass_lb=candidate.mass_lb,
            recipe=candidate.recipe,
            penalty_per_lb=self.penalties[index],
            wishes=wishes if may_change else (),
            slow_release=slow if may_change else None,
            may_change=may_change,
            by_volume=True,
            exclude=self.closed | frozenset(candidate.revision.wished.exclude),
        )

    def _settle_which_may_change(self) -> None:
        """Orders by one revision keep the same guarantees, or none of them does."""
        said: dict[int, str] = {}
        for index, candidate in enumerate(self.candidates):
            pk = candidate.revision.pk
            if pk not in said and not candidate.why_fixed:
                said[pk] = self._why_refused(index)
            if said.get(pk):
                self._fix(index, said[pk])

    def _why_refused(self, index: int) -> str:
        try:
            refuse([self._order(index)], self.stocks, {}, self.rules)
        except engine.BadProblem as bad:
            return " ".join(error.message for error in bad.errors)
        return ""

    def _fix(self, index: int, why: str) -> None:
        if not self.candidates[index].why_fixed:
            self.candidates[index] = replace(self.candidates[index], why_fixed=why)

    def _objects(self, index: int, found: OrderPlan) -> bool:
        """Whether the proposed change does not hold; the next question then knows."""
        if found.changed_pct is None:
            return False
        candidate = self.candidates[index]
        try:
            changed = other_recipe(candidate.revision, whole(found.changed_pct), self.catalogue)
        except BadInput as bad:
            self._fix(index, bad.message)
            return True
        # Ordered are gallons: the changed recipe has to fill them at its own density.
        needed_lb = candidate.volume_gal * changed.answer.totals.density_lb_per_gal
        if needed_lb > found.made_lb:
            self._fix(index, "Another recipe would not fill its gallons.")
            return True
        return False
