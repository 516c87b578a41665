"""What the charges have made, from actual weights and the lots' own certificates."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any, Final

from formulas.contracts.assay_checks import allowance_pct
from formulas.engine.label.assay_check import Verdict
from formulas.engine.plant import as_made as engine
from formulas.engine.plant.as_made_maxima import MaximumVerdict
from orders.frozen.load_plan import FrozenStock
from orders.models import Batch, StockLot
from orders.production.steps import Step

VERDICT_WORDS: Final[Mapping[Verdict, str]] = {
    Verdict.MEETS: "meets its guarantee",
    Verdict.WITHIN_ALLOWANCE: "below its guarantee, within the allowance",
    Verdict.DEFICIENT: "below its guarantee by more than the allowance",
}
MAXIMUM_WORDS: Final[Mapping[MaximumVerdict, str]] = {
    MaximumVerdict.MEETS: "keeps its maximum",
    MaximumVerdict.ABOVE: "above its maximum",
}


@dataclass(frozen=True, slots=True)
class Weighed:
    """A weight of one lot, or of a stock without a lot, with the figures that hold for it."""

    lot: engine.Lot
    weight_lb: float


def as_made(batch: Batch, steps: Sequence[Step]) -> engine.AsMade | None:
    """What is in the tank now; None while nothing is."""
    return _made(batch, weighed(steps))


def when_finished(batch: Batch, steps: Sequence[Step]) -> engine.AsMade | None:
    """What it will be if everything left is weighed to its target, at the typical assays."""
    return _made(batch, [*weighed(steps), *still_to_come(steps)])


def weighed(steps: Sequence[Step]) -> list[Weighed]:
    """The charges with their lots' figures; those of the frozen step where a lot has none."""
    return [
        Weighed(lot_figures(step.figures, charge.lot), _lb(charge.mass_lb))
        for step in steps
        for charge in step.charges
    ]


def still_to_come(steps: Sequence[Step]) -> list[Weighed]:
    """What is left of each weighing. A step passed over stays as it is and brings nothing."""
    begun = [step.number for step in steps if step.charges]
    last = max(begun, default=0)
    return [
        Weighed(lot_figures(step.figures, None), _lb(step.left_lb))
        for step in steps
        if step.number >= last and step.left_lb > step.tolerance_lb
    ]


def lot_figures(figures: FrozenStock, lot: StockLot | None) -> engine.Lot:
    """The lot's certificate over the step's frozen figures."""
    analysis, density = dict(figures.analysis), figures.density_lb_per_gal
    if lot is None:
        code = f"{figures.code} (no lot)"
        return engine.Lot(code, figures.code, density, analysis)
    analysis |= {figure.key: figure.pct for figure in lot.figures.all()}
    return engine.Lot(lot.code, figures.code, lot.density_lb_per_gal or density, analysis)


def promised(batch: Batch) -> tuple[Mapping[str, float], float | None]:
    """The batch's guaranteed minima, percent by weight, and its slow-release share.

    Those of the plan, unless a lower promise was agreed since.
    """
    if lowered := batch.lowered_promise:
        return lowered.minima_pct, lowered.slow_release_min_pct
    promise = batch.load_plan.promised
    return promise.minima_pct, promise.slow_release_min_pct


def promised_most(batch: Batch) -> tuple[Mapping[str, float], float | None]:
    """What the batch is to hold at most, percent by weight, and of the slow-release share.

    Every maximum of the plan, those of the law among them: also none at all of something, and
    one at its own minimum.
    """
    promise = batch.load_plan.promised
    return promise.maxima_pct, promise.slow_release_max_pct


def wished_most(batch: Batch) -> tuple[dict[str, float], float | None]:
    """The same for a correction, which has to aim somewhere between the limits.

    A maximum below a promise that was lowered since still stands; one at or below its minimum
    cannot be weighed and is left out.
    """
    minima, slow = promised(batch)
    wished = batch.load_plan.promised
    most = wished.slow_release_max_pct
    return (
        {key: pct for key, pct in wished.maxima_pct.items() if pct > minima.get(key, 0.0)},
        None if most is None or most <= (slow or 0.0) else most,
    )


def _made(batch: Batch, weights: Sequence[Weighed]) -> engine.AsMade | None:
    if not any(weight.weight_lb > 0 for weight in weights):
        return None
    minima, slow = promised(batch)
    maxima, slow_max = promised_most(batch)
    lots = {weight.lot.code: weight.lot for weight in weights}
    return engine.as_made(
        [engine.Charge(weight.lot.code, weight.weight_lb) for weight in weights],
        list(lots.values()),
        guarantees=minima,
        slow_release_pct=slow,
        maxima=maxima,
        slow_release_max_pct=slow_max,
        allowance=allowance_pct,
    )


def _lb(mass: Any) -> float:
    """Pounds for the engine; masses are exact thousandths in the ledger."""
    return float(mass)
