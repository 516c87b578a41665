"""Plans of the year's loads: one from the planning code for each blend and volume, many from it."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace
from datetime import date
from decimal import Decimal

from blendshop.money import unit_price
from formulas.models import BlendRevision
from orders.demo.year.actions.costs import Costs
from orders.frozen.load_plan import LoadPlan, PlannedLot
from orders.models import LabelPromise, StockLot, Tank
from orders.planning.batch_plan import AskedLoad, plan_load
from orders.planning.load_question import LoadRecipe, load_recipe
from orders.tanks.heel import EmptyTank

#: What a plan of no lots says; the year's plans have theirs.
_NO_LOTS = "typical_figures"


class Patterns:
    """Loads planned with typical figures into an empty tank, each once."""

    def __init__(self, promises: Mapping[int, LabelPromise], found: EmptyTank, today: date) -> None:
        self._promises, self._found, self._today = promises, found, today
        self._recipes: dict[int, LoadRecipe] = {}
        self._plans: dict[tuple[int, int, float], LoadPlan] = {}

    def of(self, revision: BlendRevision, tank: Tank, volume_gal: float) -> LoadPlan:
        key = (revision.pk, tank.pk, volume_gal)
        if key not in self._plans:
            if revision.pk not in self._recipes:
                self._recipes[revision.pk] = load_recipe(revision, self._today)
            asked = AskedLoad(
                recipe=self._recipes[revision.pk],
                tank=tank,
                volume_gal=volume_gal,
                printed_pct=self._promises[revision.pk].promised.lines_pct,
            )
            self._plans[key] = plan_load(asked, self._found)
        return self._plans[key]


def planned(pattern: LoadPlan, lots: Mapping[str, StockLot], costs: Costs, day: date) -> LoadPlan:
    """The pattern from the lots that were there, at the costs of the day it was planned."""
    steps = tuple(
        replace(step, lots=_from(lots.get(step.code), step.weight_lb)) for step in pattern.steps
    )
    cost = costs.of({step.code: step.weight_lb for step in steps}, day)
    return replace(
        pattern,
        steps=steps,
        findings=tuple(each for each in pattern.findings if each.code != _NO_LOTS),
        cost_per_gal=unit_price(cost / Decimal(repr(pattern.volume_gal))),
    )


def _from(lot: StockLot | None, weight_lb: float) -> tuple[PlannedLot, ...]:
    if lot is None:
        return ()  # water from the main
    return (
        PlannedLot(
            code=lot.code,
            weight_lb=weight_lb,
            density_lb_per_gal=lot.density(),
            analysis=lot.analysis(),
        ),
    )
