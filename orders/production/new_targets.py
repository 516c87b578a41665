"""New targets for the weighings still to come, where the tank is not as it was planned.

What is in the tank can no longer be changed: it is a heel of known mass and analysis, and the rest
of the load is planned again beside it, with room for every weight on target. So an overcharge seen
early raises what is still to come, and another lot than planned changes how much of it is taken.
"""

from __future__ import annotations

import hashlib
import json
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import date
from decimal import Decimal
from typing import Any, Final

from formulas.engine.blend.evaluate import evaluate
from formulas.engine.composition import ANALYSIS_KEYS
from formulas.engine.plant.load import (
    USUAL_TOLERANCE_PCT,
    Heel,
    LoadQuestion,
    LoadScale,
    LoadStep,
    PlannedLoad,
)
from formulas.engine.plant.with_room import broken_for, plan_if_room
from formulas.engine.problem import BadProblem, BlendProblem, Stock
from formulas.engine.result import Severity, Share
from formulas.engine_bridge import exact, saved_rules
from orders.frozen.load_plan import Weighing
from orders.frozen.tank_contents import TankContents
from orders.models import Batch, StockLot
from orders.models.pounds import exact_pounds
from orders.production.as_made import (
    Weighed,
    as_made,
    expected_figures,
    heel_under,
    lot_figures,
)
from orders.production.promise import promised_limits
from orders.production.steps import Step, WeighingStatus
from orders.production.substitute_stocks import AvailableStocks, recipe_stocks, with_figures
from orders.tanks.contents import engine_stock

#: How much more than planned a load may become where nothing was charged above its target.
_LARGEST_LOAD: Final = 1.25
#: How often the volume between the planned and the largest one is halved.
_HALVINGS: Final = 3
#: Gallons that the rest of a load makes at least, so that there is something to plan.
_LEAST_GAL: Final = 0.01


@dataclass(frozen=True, slots=True)
class NewTarget:
    """From now on a weighing has these figures; ``lot`` is what they count on, if it is not
    what the plan counted on."""

    step: Step
    figures: Weighing
    lot: StockLot | None

    @property
    def weight_lb(self) -> Decimal:
        return exact_pounds(self.figures.weight_lb)

    @property
    def more_lb(self) -> Decimal:
        """Above the target of before; negative below it."""
        return self.weight_lb - self.step.target_lb


@dataclass(frozen=True, slots=True)
class NewTargets:
    """The weighings whose target changes, and the load they make.

    ``digest`` stands for exactly these targets of this tank, so that what was seen is accepted.
    """

    targets: tuple[NewTarget, ...]
    load: PlannedLoad
    digest: str


@dataclass(frozen=True, slots=True)
class RestOfLoad:
    """What is in the tank as a heel, and the weighings still to come with their stocks' figures.

    ``overcharged`` is the largest quotient of what is charged and what was planned, 1 or more.
    """

    batch: Batch
    coming: tuple[Step, ...]
    question: LoadQuestion
    boxes: tuple[LoadStep, ...]
    in_tank: tuple[tuple[Stock, float], ...]
    available: AvailableStocks
    lots: Mapping[int, StockLot]
    overcharged: float

    @property
    def keeps_every_promise(self) -> bool:
        """Whether every weight on target does, as the targets are."""
        return not broken_for(self.question, self.boxes)


def rest_of_load(
    batch: Batch,
    steps: Sequence[Step],
    today: date,
    *,
    lots: Mapping[int, StockLot] | None = None,
    available: AvailableStocks | None = None,
) -> RestOfLoad | None:
    """The rest as a question; ``lots`` are those a weighing (by number) is really taken from.

    None where nothing is to come, or two weighings of one stock are.
    """
    coming = still_coming(steps)
    codes = [step.code for step in coming]
    if not coming or len(set(codes)) < len(codes):
        return None
    lots = lots or {}
    available = available or recipe_stocks(steps, today)
    stocks = tuple(_stock(batch, step, lots.get(step.number), available) for step in coming)
    return RestOfLoad(
        batch=batch,
        coming=coming,
        question=_question(batch, steps, coming, stocks),
        boxes=tuple(_box(batch, step) for step in coming),
        in_tank=(*in_heel(heel_under(batch)), *_in_tank(steps, available)),
        available=available,
        lots=lots,
        overcharged=max(1.0, *(float(step.charged_lb / step.planned_lb) for step in steps)),
    )


def still_coming(steps: Sequence[Step]) -> tuple[Step, ...]:
    """Weighings with nothing in yet, and the last one begun while it is under."""
    last = max((step.number for step in steps if step.charges), default=0)
    return tuple(
        step
        for step in steps
        if not step.charges or (step.number == last and step.status is WeighingStatus.UNDER)
    )


def new_targets(rest: RestOfLoad) -> NewTargets | None:
    """Targets with which every weight on target keeps every promise; None where none do.

    None too where it would take more of a stock than is on hand, or more than the tank holds.
    """
    load = _least_load(rest)
    if load is None or _is_incompatible(rest, load):
        return None
    planned = {step.code: step for step in load.steps}
    if planned.keys() != {step.code for step in rest.coming}:
        return None
    targets = tuple(
        target
        for step in rest.coming
        if (target := _target(rest, step, planned[step.code])).figures.weight_lb
        != step.figures.weight_lb
        or target.figures.tolerance_lb != step.figures.tolerance_lb
    )
    if not targets or not _are_on_hand(rest, targets):
        return None
    return NewTargets(targets, load, _digest(rest, targets))


def _least_load(rest: RestOfLoad) -> PlannedLoad | None:
    """The rest planned to the planned volume, else to little more than keeps every promise.

    An overcharge that cannot be thinned within the planned volume makes more of the product: at
    most what brings everything charged back to its planned share, or a quarter more.
    """
    question, capacity_gal = rest.question, float(rest.batch.tank.capacity_gal)
    low_gal = question.volume_gal
    if found := _planned(question, low_gal, capacity_gal):
        return found
    high_gal = min(capacity_gal, max(_LARGEST_LOAD, rest.overcharged) * low_gal)
    best = _planned(question, high_gal, capacity_gal) if high_gal > low_gal else None
    if best is None:
        return None
    for _ in range(_HALVINGS):
        middle_gal = (low_gal + high_gal) / 2
        less = _planned(question, middle_gal, capacity_gal)
        if less is None or less.tolerance_pct < best.tolerance_pct:
            low_gal = middle_gal
        else:
            high_gal, best = middle_gal, less
    return best


def _planned(question: LoadQuestion, volume_gal: float, capacity_gal: float) -> PlannedLoad | None:
    try:
        load = plan_if_room(replace(question, volume_gal=volume_gal))
    except BadProblem:
        return None
    return load if load is not None and load.volume_gal <= capacity_gal else None


def _question(
    batch: Batch, steps: Sequence[Step], coming: Sequence[Step], stocks: Sequence[Stock]
) -> LoadQuestion:
    plan = batch.load_plan
    wishes, slow_release = promised_limits(batch)
    heel = _heel(batch, steps)
    left_lb = {step.code: float(step.left_lb) for step in coming}
    whole_lb = sum(left_lb.values())
    standing_gal = 0.0 if heel is None else heel.volume_gal
    has_fine = any(step.is_on_fine_scale for step in steps)
    return LoadQuestion(
        # Rules are judged over the whole tank afterwards: the heel's stocks are known here.
        problem=BlendProblem(stocks=tuple(stocks), wishes=wishes, slow_release=slow_release),
        volume_gal=max(plan.volume_gal, standing_gal + _LEAST_GAL),
        recipe=tuple(Share(code, 100.0 * lb / whole_lb) for code, lb in left_lb.items()),
        scale=LoadScale(None, batch.tank.fine_scale if has_fine else None),
        tolerance_pct=USUAL_TOLERANCE_PCT if plan.tolerance_pct is None else plan.tolerance_pct,
        heel=heel,
        printed_pct={key: float(pct) for key, pct in plan.printed_pct.items()},
        capacity_gal=float(batch.tank.capacity_gal),
        density_correction=plan.density_correction,
        # Too much of one weighing takes more of the others.
        may_grow=True,
    )


def _heel(batch: Batch, steps: Sequence[Step]) -> Heel | None:
    """Everything in the tank, by the scale and the lots' certificates; before the first charge
    what the batch would be charged onto now."""
    made = as_made(batch, steps)
    if made is None:
        onto = heel_under(batch)
        if onto is None or onto.mass_lb <= 0:
            return None
        return Heel(onto.mass_lb, onto.volume_gal, onto.analysis)
    analysis = {key: pct for key, pct in made.analysis.items() if key in ANALYSIS_KEYS}
    return Heel(made.mass_lb, made.volume_gal, analysis)


def _stock(batch: Batch, step: Step, lot: StockLot | None, available: AvailableStocks) -> Stock:
    """The stock as it will go in: figures of its lot, division of its scale, no limits of its own
    (they are of whole recipes)."""
    figures = expected_figures(step) if lot is None else lot_figures(step.figures, lot)
    stock = with_figures(available.stocks[step.code], Weighed(figures, 0.0))
    return replace(stock, scale_step_lb=_main_division(batch, step), min_pct=0.0, max_pct=100.0)


def _main_division(batch: Batch, step: Step) -> float:
    if step.is_on_fine_scale:
        return batch.load_plan.tank.scale_step_lb
    return step.figures.scale_step_lb


def _box(batch: Batch, step: Step) -> LoadStep:
    """What is left of a weighing and how far it may be off; exact for a plan of before."""
    figures = step.figures
    return LoadStep(
        code=step.code,
        weight_lb=float(step.left_lb),
        tolerance_lb=figures.tolerance_lb or 0.0,
        scale=figures.scale,
        division_lb=figures.scale_step_lb,
    )


def in_heel(heel: TankContents | None) -> list[tuple[Stock, float]]:
    """What the batch was charged onto, stock by stock in pounds, so that the rules see it too."""
    if heel is None:
        return []
    return [
        (engine_stock(stock), heel.mass_lb * stock.pct / 100)
        for stock in heel.stocks
        if heel.mass_lb * stock.pct > 0
    ]


def _in_tank(steps: Sequence[Step], available: AvailableStocks) -> Iterator[tuple[Stock, float]]:
    for step in steps:
        if step.charges:
            yield available.stocks[step.code], float(step.charged_lb)


def _is_incompatible(rest: RestOfLoad, load: PlannedLoad) -> bool:
    """Whether a compatibility rule stops the whole tank, what is in it included."""
    pounds: dict[str, float] = {}
    stocks: dict[str, Stock] = {}
    coming = [(rest.available.stocks[step.code], step.weight_lb) for step in load.steps]
    for stock, weight_lb in (*rest.in_tank, *coming):
        stocks[stock.code] = stock
        pounds[stock.code] = pounds.get(stock.code, 0.0) + weight_lb
    whole = sum(pounds.values())
    shares = tuple(Share(code, 100.0 * weight / whole) for code, weight in pounds.items())
    blend = evaluate(tuple(stocks.values()), shares, saved_rules())
    return any(finding.severity is Severity.STOP for finding in blend.findings)


def _target(rest: RestOfLoad, step: Step, planned: LoadStep) -> NewTarget:
    """What is in of the weighing stays in; the plan is of what is still to come of it."""
    figures = Weighing.of_stock(
        step.figures,
        float(exact(planned.weight_lb) + step.charged_lb),
        scale_step_lb=planned.division_lb,
        tolerance_lb=planned.tolerance_lb,
        scale=planned.scale,
    )
    return NewTarget(step, figures, rest.lots.get(step.number))


def _are_on_hand(rest: RestOfLoad, targets: Sequence[NewTarget]) -> bool:
    left = {offer.stock.code: offer.weight_lb for offer in rest.available.on_hand}
    return all(
        # What is on hand is counted without what the weighings as they are still take.
        float(target.more_lb) <= left.get(target.step.code, 0.0)
        for target in targets
        if target.more_lb > 0
    )


def _digest(rest: RestOfLoad, targets: Sequence[NewTarget]) -> str:
    charges = [[charge.pk for charge in step.charges] for step in rest.coming]
    seen: list[Any] = [
        rest.batch.pk,
        rest.question.heel.mass_lb if rest.question.heel else 0.0,
        charges,
        [
            (t.step.number, str(t.weight_lb), t.figures.tolerance_lb, t.lot.pk if t.lot else None)
            for t in targets
        ],
    ]
    return hashlib.sha256(json.dumps(seen).encode()).hexdigest()[:16]


# ------------------------------------------------------------------------------- another lot
@dataclass(frozen=True, slots=True)
class LotAnswer:
    """What to take of a lot for a weighing: as it is, or ``new`` targets, or neither."""

    step: Step
    lot: StockLot
    keeps: bool
    new: NewTargets | None


def lot_answer(
    batch: Batch, steps: Sequence[Step], step: Step, lot: StockLot, today: date
) -> LotAnswer | None:
    """What taking ``lot`` for ``step`` means; None where the rest is no question."""
    rest = rest_of_load(batch, steps, today, lots={step.number: lot})
    if rest is None or step not in rest.coming:
        return None
    if rest.keeps_every_promise:
        return LotAnswer(step, lot, keeps=True, new=None)
    return LotAnswer(step, lot, keeps=False, new=new_targets(rest))


def lots_keep(
    batch: Batch,
    steps: Sequence[Step],
    lots: Mapping[int, Sequence[StockLot]],
    today: date,
) -> dict[int, dict[str, bool]]:
    """By weighing, by lot: whether the weights as they are keep every promise with that lot.

    For the screen without network; each answer is a few rows of arithmetic.
    """
    rest = rest_of_load(batch, steps, today)
    if rest is None:
        return {}
    return {
        step.number: {
            lot.code: not broken_for(_with_lot(rest, step, lot), rest.boxes)
            for lot in lots.get(step.number, ())
        }
        for step in rest.coming
    }


def _with_lot(rest: RestOfLoad, step: Step, lot: StockLot) -> LoadQuestion:
    problem = rest.question.problem
    stocks = tuple(
        _stock(rest.batch, step, lot, rest.available) if stock.code == step.code else stock
        for stock in problem.stocks
    )
    return replace(rest.question, problem=replace(problem, stocks=stocks))
