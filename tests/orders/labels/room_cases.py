"""Plans with room for labels: worst cases and printed lines, frozen as planning freezes them."""

from dataclasses import replace
from decimal import Decimal

from formulas.engine.composition import with_total_n
from formulas.engine.label.guarantee import LabelBasis, LabelSource, draft_label
from formulas.engine.plant.load import LoadQuestion
from formulas.engine.plant.not_weighable import NotWeighable
from formulas.engine.plant.with_room import plan_with_room
from formulas.engine.problem import BlendProblem, NutrientWish, SlowReleaseWish, Stock
from formulas.engine.result import Share
from orders.frozen.load_plan import LoadPlan
from orders.models import Batch
from tests.orders.planning.plant_cases import freeze_otherwise


def with_room(batch: Batch, *, has_lines: bool = True) -> Batch:
    """The batch, its plan having tolerances; ``has_lines``: and the lines it promises.

    A recipe of two stocks that holds its grade to the last digit has no room and stays as it is.
    """
    plan = batch.load_plan
    if not plan.has_tolerances:
        try:
            _plan_again(batch, plan)
        except NotWeighable:
            return batch
    lines = _printed_lines(batch.load_plan) if has_lines else {}
    freeze_otherwise(batch, printed_pct=lines)
    return batch


def as_before(batch: Batch) -> Batch:
    """The batch, planned before there were tolerances."""
    freeze_otherwise(
        batch, tolerance_pct=None, least_pct={}, printed_pct={},
        steps=tuple(replace(step, tolerance_lb=None) for step in batch.load_plan.steps),
    )  # fmt: skip
    return batch


def _plan_again(batch: Batch, plan: LoadPlan) -> None:
    stocks = tuple(
        Stock(
            step.code, step.name, step.density_lb_per_gal, 1.0 + 0.01 * len(step.code),
            step.analysis, traits=frozenset(step.traits), scale_step_lb=step.scale_step_lb,
        )
        for step in plan.steps
    )  # fmt: skip
    keys = {*plan.promised.minima_pct, *plan.promised.maxima_pct}
    slow = plan.promised.slow_release_min_pct
    problem = BlendProblem(
        stocks,
        wishes=tuple(
            NutrientWish(key, plan.promised.minima_pct.get(key), plan.promised.maxima_pct.get(key))
            for key in sorted(keys)
        ),
        slow_release=None if slow is None else SlowReleaseWish(min_pct=slow),
    )
    load = plan_with_room(
        LoadQuestion(
            problem,
            volume_gal=plan.volume_gal,
            recipe=tuple(Share(step.code, step.pct) for step in plan.steps),
        )
    )
    of = {step.code: step for step in load.steps}
    shares = {share.code: share.pct for share in load.blend.shares}
    running, steps = 0.0, []
    for step in plan.steps:
        if step.code not in of:
            continue
        running += of[step.code].weight_lb
        steps.append(
            replace(
                step, weight_lb=of[step.code].weight_lb, tolerance_lb=of[step.code].tolerance_lb,
                pct=shares[step.code], running_total_lb=running,
            )
        )  # fmt: skip
    freeze_otherwise(
        batch, steps=tuple(steps), analysis=with_total_n(load.analysis),
        slow_release_pct=load.slow_release_pct, density_lb_per_gal=load.density_lb_per_gal,
        mass_lb=load.net_weight_lb, volume_gal=load.volume_gal,
        tolerance_pct=load.tolerance_pct, least_pct=dict(load.least_pct),
        room_cost_per_gal=Decimal("0.01"),
    )  # fmt: skip


def _printed_lines(plan: LoadPlan) -> dict[str, Decimal]:
    """As a promise is written down: contents only, no chelated parts."""
    analysis = {key: pct for key, pct in plan.least_pct.items() if key != "N"}
    draft = draft_label(
        LabelBasis(
            analysis, "specialty", (LabelSource("urea-triazone solution", {"N.slow": 1.0}),),
            10.0, 1.0, promised=plan.promised.minima_pct,
        )
    )  # fmt: skip
    lines = (*draft.guarantees, *draft.other_ingredients)
    return {line.key: line.pct for line in lines}
