"""Scarce stock shared among the open orders: what is asked of the engine and what it proposes.

Asked: every open order line that no batch covers yet, all or nothing, and what is usable in the
lots less what planned batches still take. A recipe may change only where nothing the customer
was told changes with it: the whole wish, the printed grade, the slow-release share in whole
percent, and never more phosphate than before (rules of states turn on it). Every change is
checked again by ``formulas.changed_recipe`` before anybody sees it.
"""

from __future__ import annotations

import math
from collections import defaultdict
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import date
from decimal import Decimal
from typing import Any, Final

from django.db.models import Sum

from blendshop.errors import BadInput
from formulas.changed_recipe import other_recipe
from formulas.engine import problem as engine
from formulas.engine.allocation import (
    AllocationPlan,
    OpenOrder,
    OrderPlan,
    allocate,
    penalty_per_lb,
)
from formulas.engine.allocation_checks import refuse
from formulas.engine.composition import content_pct
from formulas.engine_bridge import Catalogue, load_catalogue, saved_rules, to_engine
from formulas.models import BaseStock, BlendRevision
from orders.batch_plan import grade_figures, promised_minima
from orders.models import Batch, BatchPart, OrderLine, StockLot, StockMovement
from orders.planned_recipes import making_revisions
from orders.stock_levels import FROM_THE_MAIN, RESERVING, STILL_CHARGING, stock_levels

#: So often a plan is asked again when a change it proposed does not hold.
_MOST_ROUNDS: Final = 6
#: A printed grade is rounded down to tenths; below the next tenth it stays the same.
_GRADE_STEP: Final = 0.1 - 1e-4
#: Frozen analyses are rounded to six decimals, percent.
_FROZEN: Final = 1e-6
#: The slow-release share of the quote stays the same in whole percent.
_WHOLE_PERCENT: Final = 1.0 - 1e-6


@dataclass(frozen=True, slots=True)
class Candidate:
    """An order line that still has to be made, or what is left of it.

    ``why_fixed`` says why its recipe may not change; empty: it may.
    """

    line: OrderLine
    revision: BlendRevision
    quantity: int
    volume_gal: float
    mass_lb: float
    recipe: Mapping[str, float]
    why_fixed: str

    @property
    def code(self) -> str:
        return str(self.line)


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
    candidates = _candidates()
    committed = _committed_lb()
    levels = {level.stock.code: float(level.usable) for level in stock_levels(today)}
    catalogue = load_catalogue(today, include_short=True)
    stocks = _engine_stocks(catalogue, candidates)
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
    found, plan = _Search(candidates, stocks, on_hand, main, today).run()
    return replace(
        asked,
        plan=plan,
        proposals=tuple(Proposal(c, p) for c, p in zip(found, plan.orders, strict=True)),
    )


def guarantees(
    revision: BlendRevision,
) -> tuple[tuple[engine.NutrientWish, ...], engine.SlowReleaseWish | None]:
    """What another recipe of a revision has to keep, see the module."""
    low: dict[str, float] = promised_minima(revision)["minima_pct"]
    high: dict[str, float] = {
        target["nutrient"]: target["max"]
        for target in revision.wish.get("targets") or []
        if target.get("max") is not None
    }
    for key, pct in grade_figures(revision.grade).items():
        high[key] = min(high.get(key, math.inf), pct + _GRADE_STEP)
    had = content_pct(revision.analysis, "P2O5")
    had = had + _FROZEN if had else 0.0
    high["P2O5"] = max(low.get("P2O5", 0.0), min(high.get("P2O5", math.inf), had))
    wishes = tuple(
        engine.NutrientWish(key, low.get(key), high.get(key)) for key in sorted({*low, *high})
    )
    slow = revision.wish.get("slow_release_pct") or {}
    if revision.slow_release_pct is None:
        return wishes, None
    # 6 places: a share of exactly 50 % is not printed as 49.
    told = math.floor(round(revision.slow_release_pct, 6))
    least = max(slow.get("min") or 0.0, float(told))
    most = min(slow.get("max") or 100.0, told + _WHOLE_PERCENT)
    return wishes, engine.SlowReleaseWish(least, max(least, most))


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
        for _ in range(_MOST_ROUNDS):
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
        return allocate(orders, self.stocks, self.on_hand, self.rules)

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
            exclude=self.closed | frozenset(candidate.revision.wish.get("exclude") or ()),
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
            blend = other_recipe(candidate.revision, whole(found.changed_pct), self.catalogue)
        except BadInput as bad:
            self._fix(index, bad.message)
            return True
        # Ordered are gallons: the changed recipe has to fill them at its own density.
        needed_lb = candidate.volume_gal * blend.answer["totals"]["density_lb_per_gal"]
        if needed_lb > found.made_lb:
            self._fix(index, "Another recipe would not fill its gallons.")
            return True
        return False


def whole(pct: Mapping[str, float]) -> dict[str, float]:
    """Shares that add up to exactly 100 percent."""
    total = sum(pct.values())
    return {code: 100.0 * share / total for code, share in pct.items()}


def _candidates() -> list[Candidate]:
    """Open lines that no live batch covers, earliest due first; six queries."""
    lines = list(
        OrderLine.objects.filter(order__status__in=RESERVING)
        .select_related("order__company", "revision__blend", "package")
        .order_by("order__due_on", "order__pk", "position")
    )
    planned: dict[int, int] = dict(
        BatchPart.objects.live()
        .filter(order_line__in=lines)
        .order_by()
        .values_list("order_line")
        .annotate(Sum("quantity"))
    )
    revisions = making_revisions(lines)
    recipes = _recipes({revision.pk for revision in revisions.values()})
    found = []
    for line in lines:
        covered, revision = planned.get(line.pk, 0), revisions[line.pk]
        left = line.quantity - covered
        if left <= 0:
            continue
        volume_gal = line.volume_gal * left / line.quantity
        own = revision.pk == line.revision_id
        found.append(
            Candidate(
                line=line,
                revision=revision,
                quantity=left,
                volume_gal=volume_gal,
                mass_lb=line.mass_lb * left / line.quantity
                if own
                else volume_gal * revision.density_lb_per_gal,
                recipe=whole(recipes[revision.pk]),
                why_fixed=_why_fixed(revision, covered),
            )
        )
    return found


def _why_fixed(revision: BlendRevision, covered: int) -> str:
    if covered:
        return "Part of it is planned in batches already; all of it is made alike."
    if revision.wish.get("margin"):
        return "It was made with a margin that holds for its own recipe only."
    return ""


def _recipes(revision_ids: set[int]) -> dict[int, dict[str, float]]:
    found: dict[int, dict[str, float]] = defaultdict(dict)
    rows = BlendRevision.objects.filter(pk__in=revision_ids)
    for pk, code, pct in rows.values_list("pk", "lines__stock__code", "lines__pct"):
        found[pk][code] = pct
    return found


def _engine_stocks(
    catalogue: Catalogue, candidates: Sequence[Candidate]
) -> tuple[engine.Stock, ...]:
    """The catalogue, and what recipes hold besides: retired stocks, which may join no other."""
    known = {stock.code for stock in catalogue.stocks}
    used = {code for candidate in candidates for code in candidate.recipe} - known
    rows = BaseStock.objects.filter(code__in=used).for_engine()
    return catalogue.stocks + tuple(
        replace(
            to_engine(row, catalogue.cost_per_lb.get(row.code, Decimal(0))),
            min_pct=0.0,
            max_pct=0.0,
        )
        for row in rows
    )


def _committed_lb() -> dict[str, float]:
    """What batches that are planned or being charged still take, by stock code."""
    batches = Batch.objects.filter(status__in=STILL_CHARGING)
    used: dict[tuple[int, str], float] = {
        (batch, code): -float(mass)
        for batch, code, mass in StockMovement.objects.filter(batch__in=batches)
        .order_by()
        .values_list("batch", "lot__stock__code")
        .annotate(Sum("mass_lb"))
    }
    found: dict[str, float] = defaultdict(float)
    for batch in batches.prefetch_related("additions__stock"):
        wanted: dict[str, float] = defaultdict(float)
        for step in _steps(batch):
            wanted[step["code"]] += step["weight_lb"]
        for code, lb in wanted.items():
            found[code] += max(0.0, lb - used.get((batch.pk, code), 0.0))
    return dict(found)


def _steps(batch: Batch) -> list[dict[str, Any]]:
    additions = [addition.step for addition in batch.additions.all()]
    return [*batch.plan["steps"], *additions]
