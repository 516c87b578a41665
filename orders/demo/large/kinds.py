"""The patterns: three demo blends with what real actions wrote for each."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace
from decimal import Decimal
from functools import cached_property
from typing import Any, Final

from formulas.answers.answer import SolvedAnswer
from formulas.models import BlendRevision
from orders.demo.large.size import spread
from orders.frozen.line_price import LinePrice, RecipeShare
from orders.frozen.load_plan import LoadPlan, PlannedLot
from orders.models import BatchPart, LabelPromise, QuoteLine

#: What gives way when a recipe is varied.
WATER: Final = "WATER"


@dataclass(frozen=True, slots=True)
class Kind:
    """A demo blend: its shares in percent, the line that was quoted, the load that was planned."""

    revision: BlendRevision
    shares_pct: Mapping[str, float]
    line: QuoteLine
    price: LinePrice
    part: BatchPart
    plan: LoadPlan
    promise: LabelPromise

    @property
    def has_water(self) -> bool:
        return WATER in self.shares_pct

    def varied_pct(self, number: int) -> dict[str, float]:
        """Other shares of the same stocks: less water and more of the rest, else another split.

        With less water nothing that was promised of the pattern gets less.
        """
        shares = dict(self.shares_pct)
        if self.has_water:
            taken = shares[WATER] * (0.05 + 0.85 * spread(number))
            shares[WATER] -= taken
            most = max((code for code in shares if code != WATER), key=shares.__getitem__)
            shares[most] += taken
        else:
            first, second = list(shares)[:2]
            moved = 4.0 * spread(number)
            shares[first] -= moved
            shares[second] += moved
        shares = {code: round(pct, 6) for code, pct in shares.items()}
        most = max(shares, key=shares.__getitem__)
        shares[most] = round(shares[most] + 100 - sum(shares.values()), 6)
        return shares


@dataclass(frozen=True)
class SavedRecipe:
    """A varied blend as it was saved, and the kind it came of; codes are those of its family."""

    kind: Kind
    revision_id: int
    company_id: int | None
    name: str
    grade: str
    density_lb_per_gal: float
    solved: SolvedAnswer

    @property
    def mass_lb(self) -> float:
        """Pounds of a load of it, whole."""
        return float(round(self.kind.plan.volume_gal * self.density_lb_per_gal))

    @cached_property
    def price(self) -> dict[str, Any]:
        """The pattern's price for this recipe, as JSON: its money, this blend and its weights."""
        recipe = tuple(
            RecipeShare(code=line.code, name=line.name, pct=line.pct) for line in self.solved.recipe
        )
        pattern = self.kind.price
        blend = replace(
            pattern.blend,
            name=self.name,
            grade=self.grade,
            recipe=recipe,
            analysis=self.solved.analysis,
            density_lb_per_gal=self.density_lb_per_gal,
        )
        load = pattern.load
        if load is not None:
            steps = tuple(
                replace(
                    load.steps[0],
                    code=line.code,
                    name=line.name,
                    weight_lb=round(line.pct / 100 * load.mass_lb, 1),
                )
                for line in self.solved.recipe
            )
            load = replace(load, steps=steps)
        return replace(pattern, blend=blend, load=load).to_json()

    def plan(self, tank: Any, lots: Mapping[str, str]) -> LoadPlan:
        """The pattern's plan with this recipe's weights, from one lot of each stock."""
        pattern = self.kind.plan
        share = {line.code: line.pct for line in self.solved.recipe}
        running, steps = 0.0, []
        for step, code in zip(pattern.steps, self.codes_in_charging_order(), strict=True):
            weight = round(share[code] / 100 * self.mass_lb, 1)
            running = round(running + weight, 1)
            lot = PlannedLot(
                code=lots[code],
                weight_lb=weight,
                density_lb_per_gal=step.density_lb_per_gal,
                analysis=step.analysis,
            )
            steps.append(
                replace(
                    step,
                    code=code,
                    weight_lb=weight,
                    volume_gal=round(weight / step.density_lb_per_gal, 4),
                    running_total_lb=running,
                    pct=share[code],
                    lots=(lot,),
                )
            )
        return replace(
            pattern,
            product_name=self.name,
            blend_reference=f"{self.name} r1",
            revision_id=self.revision_id,
            grade=self.grade,
            tank=replace(pattern.tank, name=tank.name, capacity_gal=float(tank.capacity_gal)),
            steps=tuple(steps),
            mass_lb=running,
            analysis=self.solved.analysis,
            density_lb_per_gal=self.density_lb_per_gal,
        )

    def codes_in_charging_order(self) -> list[str]:
        """The family's codes, as the pattern's steps go."""
        by_pattern = {base_code(line.code): line.code for line in self.solved.recipe}
        return [by_pattern[step.code] for step in self.kind.plan.steps]


def family_code(code: str, family: int) -> str:
    """The code of a stock's copy; the shipped stocks are family 0."""
    return f"{code}-{family}" if family else code


def base_code(code: str) -> str:
    """The shipped stock that a stock was copied from."""
    return code.rpartition("-")[0] or code


def kind_of(revision: BlendRevision) -> Kind:
    """The pattern of a demo blend that was quoted and planned."""
    line = QuoteLine.objects.filter(revision=revision).order_by("-pk")[0]
    part = BatchPart.objects.filter(order_line__revision=revision).select_related("batch")[0]
    return Kind(
        revision=revision,
        shares_pct=dict(revision.lines.values_list("stock__code", "pct")),
        line=line,
        price=line.price_breakdown,
        part=part,
        plan=part.batch.load_plan,
        promise=LabelPromise.objects.get(revision=revision),
    )


def pounds(lb: float) -> Decimal:
    """As the ledger holds it."""
    return Decimal(str(round(lb, 3)))
