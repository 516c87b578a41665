"""What the charges have made, from actual weights and the lots' own certificates."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from typing import Any, Final

from django.utils.translation import gettext_lazy as _

from formulas.contracts.assay_checks import allowance_pct
from formulas.engine.density.reference_temperature import REFERENCE_F, density_at_60_f
from formulas.engine.label.assay_check import Verdict
from formulas.engine.plant import as_made as engine
from formulas.engine.plant.as_made_maxima import MaximumVerdict
from orders.frozen.load_plan import FrozenStock, PlannedWeighing
from orders.frozen.tank_contents import TankContents
from orders.models import Batch, StockLot
from orders.production.steps import Step
from orders.production.tank_gallons import TankGallons
from orders.tanks.contents import not_free
from orders.tanks.heel import newest_entry
from orders.tanks.mixing import under

#: What the heel goes by among the lots of a batch.
HEEL_LOT: Final = "heel"

VERDICT_WORDS: Final = {
    Verdict.MEETS: _("meets its guarantee"),
    Verdict.WITHIN_ALLOWANCE: _("below its guarantee, within the allowance"),
    Verdict.DEFICIENT: _("below its guarantee by more than the allowance"),
}
MAXIMUM_WORDS: Final = {
    MaximumVerdict.MEETS: _("keeps its maximum"),
    MaximumVerdict.ABOVE: _("above its maximum"),
}


@dataclass(frozen=True, slots=True)
class Weighed:
    """A weight of one lot, or of a stock without a lot, with the figures that hold for it."""

    lot: engine.Lot
    weight_lb: float


def as_made(batch: Batch, steps: Sequence[Step]) -> engine.AsMade | None:
    """What is in the tank now, its heel included; None while nothing was charged."""
    return made_onto(batch, steps, under(batch))


def made_onto(
    batch: Batch, steps: Sequence[Step], heel: TankContents | None
) -> engine.AsMade | None:
    """The same with the heel at hand."""
    return _made(batch, weighed(steps), heel)


def when_finished(batch: Batch, steps: Sequence[Step]) -> engine.AsMade | None:
    """What it will be if everything left is weighed to its target, at the typical assays.

    Before the first charge with what is in the tank by then.
    """
    return _made(batch, [*weighed(steps), *still_to_come(steps)], heel_under(batch))


def weighed(steps: Sequence[Step]) -> list[Weighed]:
    """The charges with their lots' figures; those of the frozen step where a lot has none."""
    return [
        Weighed(lot_figures(step.figures, charge.lot), _lb(charge.mass_lb))
        for step in steps
        for charge in step.charges
    ]


def still_to_come(steps: Sequence[Step]) -> list[Weighed]:
    """What is left of each weighing: all of those with nothing in, and of the last one begun what
    is missing while it is under. Any other that was passed over stays as it is.
    """
    last = max((step.number for step in steps if step.charges), default=0)
    return [
        Weighed(expected_figures(step), _lb(step.left_lb))
        for step in steps
        if not step.charges or (step.number == last and step.left_lb > step.tolerance_lb)
    ]


def expected_figures(step: Step) -> engine.Lot:
    """What a weighing counts on: its lots by their certificates, else the frozen figures."""
    if step.changes and (certified := step.changes[-1].lot):
        return lot_figures(step.figures, certified)
    planned = step.planned.lots if isinstance(step.planned, PlannedWeighing) else ()
    pounds = sum(lot.weight_lb for lot in planned)
    if pounds <= 0:
        return lot_figures(step.figures, None)
    contents: dict[str, float] = {}
    for lot in planned:
        for key, pct in {**step.planned.analysis, **lot.analysis}.items():
            contents[key] = contents.get(key, 0.0) + pct * lot.weight_lb / pounds
    volume_gal = sum(lot.weight_lb / lot.density_lb_per_gal for lot in planned)
    return replace(
        lot_figures(step.figures, None),
        code=f"{step.code} (as planned)",
        density_lb_per_gal=pounds / volume_gal,
        analysis=contents,
    )


def lot_figures(figures: FrozenStock, lot: StockLot | None) -> engine.Lot:
    """The lot's certificate over the step's frozen figures, its density brought to 60 F."""
    typical = engine.Lot(
        f"{figures.code} (no lot)",
        figures.code,
        figures.density_lb_per_gal,
        figures.analysis,
        figures.solutes,
        figures.is_water,
    )
    if lot is None:
        return typical
    own = replace(
        typical,
        code=lot.code,
        analysis={**figures.analysis, **{figure.key: figure.pct for figure in lot.figures.all()}},
    )
    if lot.density_lb_per_gal is None:
        return own
    at_f = REFERENCE_F if lot.density_temp_f is None else lot.density_temp_f
    known = figures.solutes if figures.solutes or figures.is_water else None
    return replace(own, density_lb_per_gal=density_at_60_f(lot.density_lb_per_gal, at_f, known))


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


def heel_under(batch: Batch) -> TankContents | None:
    """What the batch was begun on; before that, what its tank would give it now."""
    if batch.status != Batch.Status.PLANNED:
        return under(batch)
    entry = newest_entry(batch.tank)
    return None if entry is None or not_free(batch.tank, batch) else entry.held


def _made(
    batch: Batch, charges: Sequence[Weighed], heel: TankContents | None
) -> engine.AsMade | None:
    if not any(weight.weight_lb > 0 for weight in charges):
        return None
    weights = [*_as_weighed(heel), *charges]
    minima, slow = promised(batch)
    maxima, slow_max = promised_most(batch)
    lots = {weight.lot.code: weight.lot for weight in weights}
    made = engine.as_made(
        [engine.Charge(weight.lot.code, weight.weight_lb) for weight in weights],
        list(lots.values()),
        guarantees=minima,
        slow_release_pct=slow,
        maxima=maxima,
        slow_release_max_pct=slow_max,
        allowance=allowance_pct,
    )
    # As the plan does: a heel has its own volume, what is charged follows the measured density.
    standing_gal = sum(each.weight_lb / each.lot.density_lb_per_gal for each in _as_weighed(heel))
    gallons = TankGallons(standing_gal, standing_gal, batch.load_plan.density_correction)
    volume_gal = gallons.of_model(made.volume_gal)
    return replace(made, volume_gal=volume_gal, density_lb_per_gal=made.mass_lb / volume_gal)


def _as_weighed(heel: TankContents | None) -> list[Weighed]:
    """The heel as one more lot; nothing where the tank was empty."""
    if heel is None or heel.density_lb_per_gal is None or heel.mass_lb <= 0:
        return []
    lot = engine.Lot(HEEL_LOT, HEEL_LOT, heel.density_lb_per_gal, heel.analysis)
    return [Weighed(lot, heel.mass_lb)]


def _lb(mass: Any) -> float:
    """Pounds for the engine; masses are exact thousandths in the ledger."""
    return float(mass)
