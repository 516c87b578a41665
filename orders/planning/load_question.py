"""What is asked of the engine for one tank load: a recipe, everything promised, the tank."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import date
from decimal import Decimal

from formulas.engine import problem as engine
from formulas.engine.plant.load import Heel, LoadQuestion
from formulas.engine.result import Share
from formulas.engine_bridge import saved_rules, to_engine
from formulas.models import BaseStock, BlendRevision
from orders.frozen.load_plan import LoadPromise
from orders.models import Tank
from orders.planning.default_load import promised_problem
from orders.planning.load_promise import load_promise


@dataclass(frozen=True, slots=True)
class LoadRecipe:
    """A revision's recipe on the stocks of today: rows for the paper, values for the engine."""

    revision: BlendRevision
    promise: LoadPromise
    rows: dict[str, BaseStock]
    stocks: tuple[engine.Stock, ...]
    shares: tuple[Share, ...]
    rules: tuple[engine.CompatibilityRule, ...]

    @property
    def pct(self) -> dict[str, float]:
        """Percent by weight of each stock by its code."""
        return {share.code: share.pct for share in self.shares}


def load_recipe(revision: BlendRevision, today: date) -> LoadRecipe:
    """The recipe with each stock's typical figures and its cost of the day."""
    pct = dict(revision.lines.values_list("stock__code", "pct"))
    used = BaseStock.objects.filter(code__in=pct).for_engine().with_metals()
    rows = {row.code: row for row in used}
    stocks = []
    for row in rows.values():
        cost = row.cost_on(today)
        stocks.append(to_engine(row, cost.per_lb() if cost else Decimal(0)))
    return LoadRecipe(
        revision=revision,
        promise=load_promise(revision),
        rows=rows,
        stocks=tuple(stocks),
        shares=tuple(Share(code, share) for code, share in sorted(pct.items())),
        rules=saved_rules(),
    )


def load_question(
    recipe: LoadRecipe,
    stocks: Sequence[engine.Stock],
    tank: Tank,
    volume_gal: float,
    *,
    heel: Heel | None = None,
    printed_pct: Mapping[str, float] | None = None,
    density_correction: float = 1.0,
) -> LoadQuestion:
    """A load of ``tank`` that ends at ``volume_gal``; ``stocks`` have the figures to plan with."""
    return LoadQuestion(
        problem=promised_problem(recipe.promise, recipe.revision.wished, stocks, recipe.rules),
        volume_gal=volume_gal,
        recipe=recipe.shares,
        scale=tank.load_scale,
        tolerance_pct=tank.tolerance_pct,
        heel=heel,
        printed_pct=printed_pct or {},
        capacity_gal=float(tank.capacity_gal),
        density_correction=density_correction,
    )
