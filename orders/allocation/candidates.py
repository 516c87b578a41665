"""What a stock plan is about: lines that still have to be made, stocks, and what is spoken for."""

from __future__ import annotations

import math
from collections import defaultdict
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from decimal import Decimal

from django.db.models import Sum
from django.utils.translation import gettext as _

from formulas.engine import problem as engine
from formulas.engine.density import blend_density_lb_per_gal
from formulas.engine.result import Share
from formulas.engine_bridge import Catalogue, to_engine
from formulas.models import BaseStock, BlendRevision
from orders.frozen.load_plan import Weighing
from orders.inventory.levels import RESERVING, STILL_CHARGING
from orders.models import Batch, BatchPart, OrderLine, StockMovement
from orders.planning.planned_recipes import making_revisions


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


def whole(pct: Mapping[str, float]) -> dict[str, float]:
    """Shares that add up to exactly 100 percent."""
    total = sum(pct.values())
    return {code: 100.0 * share / total for code, share in pct.items()}


def open_candidates() -> list[Candidate]:
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


def weighed_today(
    candidates: Sequence[Candidate], stocks: Sequence[engine.Stock]
) -> list[Candidate]:
    """The candidates with what their gallons weigh on these stocks.

    A line's own pounds are those of the load it was priced for, by the density of that day; they
    move as its recipe's density has. A changed recipe has to fill the same gallons, and its
    density is today's: both by one model, without what batches of the own recipe measured, which
    is not known of the other.
    """
    by_code = {stock.code: stock for stock in stocks}
    return [_weighed_today(candidate, by_code) for candidate in candidates]


def _weighed_today(candidate: Candidate, stocks: Mapping[str, engine.Stock]) -> Candidate:
    shares = [Share(code, pct) for code, pct in candidate.recipe.items()]
    moved = blend_density_lb_per_gal(stocks, shares) / candidate.revision.density_lb_per_gal
    if math.isclose(moved, 1.0, rel_tol=1e-6):
        return candidate
    return replace(candidate, mass_lb=candidate.mass_lb * moved)


def engine_stocks(
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


def committed_lb() -> dict[str, float]:
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
    for batch in batches.prefetch_related("additions__stock", "target_changes"):
        wanted: dict[str, float] = defaultdict(float)
        for step in _steps(batch):
            wanted[step.code] += step.weight_lb
        for code, lb in wanted.items():
            found[code] += max(0.0, lb - used.get((batch.pk, code), 0.0))
    return dict(found)


def _why_fixed(revision: BlendRevision, covered: int) -> str:
    if covered:
        return _("Part of it is planned in batches already; all of it is made alike.")
    if revision.wished.margin is not None:
        return _("It was made with a margin that holds for its own recipe only.")
    return ""


def _recipes(revision_ids: set[int]) -> dict[int, dict[str, float]]:
    found: dict[int, dict[str, float]] = defaultdict(dict)
    rows = BlendRevision.objects.filter(pk__in=revision_ids)
    for pk, code, pct in rows.values_list("pk", "lines__stock__code", "lines__pct"):
        found[pk][code] = pct
    return found


def _steps(batch: Batch) -> list[Weighing]:
    additions = [addition.weighing for addition in batch.additions.all()]
    # Rows come in the order they were written: of several changes the newest holds.
    changed = {change.step: change.weighing for change in batch.target_changes.all()}
    steps: list[Weighing] = [*batch.load_plan.steps, *additions]
    return [changed.get(number, step) for number, step in enumerate(steps, start=1)]
