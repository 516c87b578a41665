"""What a tank holds once something was charged onto what was in it: pounds add up, gallons not."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass

from formulas.engine.composition import ANALYSIS_KEYS
from formulas.engine.density.mixing import volume_gal as gallons
from orders.frozen.load_plan import FrozenStock
from orders.frozen.tank_contents import HeldBatch, HeldStock, TankContents, TankState
from orders.models import Batch, TankEntry


@dataclass(frozen=True, slots=True)
class Portion:
    """So many pounds of a stock; its analysis and density are those of what was charged."""

    figures: FrozenStock
    lb: float


def planned_portions(batch: Batch) -> list[Portion]:
    """The batch as its plan weighs it in, without its heel."""
    return [Portion(step, step.weight_lb) for step in batch.load_plan.steps]


def under(batch: Batch) -> TankContents | None:
    """What the batch was begun on; None before its first charge and for older batches."""
    return under_batches([batch]).get(batch.pk)


def under_batches(batches: Iterable[Batch]) -> dict[int, TankContents]:
    """What each was begun on by its id, as far as it is known, in one query."""
    of = list(batches)
    if not of:
        return {}
    begun = TankEntry.objects.filter(batch__in=of, kind=TankEntry.Kind.BEGUN)
    return {entry.batch_id: entry.held for entry in begun if entry.batch_id is not None}


def mixed(
    batch: Batch, portions: Sequence[Portion], heel: TankContents | None, basis: str
) -> TankContents:
    """The batch in its tank: ``portions`` charged onto ``heel``.

    As the plan counts gallons: what was charged by its solutes and the product's own measured
    density, beside the heel.
    """
    own_lb = sum(each.lb for each in portions)
    onto = [] if heel is None else _portions_of(heel)
    everything = [*onto, *portions]
    mass_lb = own_lb + (0.0 if heel is None else heel.mass_lb)
    own_gal = gallons([each.figures for each in portions], [each.lb for each in portions])
    volume_gal = own_gal / batch.load_plan.density_correction
    volume_gal += 0.0 if heel is None else heel.volume_gal
    return TankContents(
        state=TankState.BATCH,
        product=f"{batch.load_plan.product_name} ({batch.number})",
        mass_lb=mass_lb,
        volume_gal=volume_gal,
        density_lb_per_gal=mass_lb / volume_gal,
        analysis=_analysis(everything, mass_lb),
        stocks=_stocks(everything, mass_lb),
        batches=(
            HeldBatch(batch.number, own_lb, 1.0),
            *(() if heel is None else heel.batches),
        ),
        basis=basis,
    )


def _portions_of(heel: TankContents) -> list[Portion]:
    return [Portion(stock, heel.mass_lb * stock.pct / 100) for stock in heel.stocks]


def _analysis(portions: Sequence[Portion], mass_lb: float) -> dict[str, float]:
    lb = {
        key: sum(each.figures.analysis.get(key, 0.0) * each.lb for each in portions)
        for key in ANALYSIS_KEYS
    }
    return {key: total / mass_lb for key, total in lb.items() if total > 0}


def _stocks(portions: Sequence[Portion], mass_lb: float) -> tuple[HeldStock, ...]:
    """Each stock once, in the order it came in; several lots of one put together by weight."""
    by_code: dict[str, list[Portion]] = {}
    for each in portions:
        by_code.setdefault(each.figures.code, []).append(each)
    return tuple(_together(parts, mass_lb) for parts in by_code.values())


def _together(parts: Sequence[Portion], mass_lb: float) -> HeldStock:
    lb = sum(each.lb for each in parts)
    weights = [each.lb / lb if lb > 0 else 1 / len(parts) for each in parts]
    keys = dict.fromkeys(key for each in parts for key in each.figures.analysis)
    return HeldStock.extending(
        parts[-1].figures,
        analysis={
            key: sum(
                weight * each.figures.analysis.get(key, 0.0)
                for weight, each in zip(weights, parts, strict=True)
            )
            for key in keys
        },
        density_lb_per_gal=1
        / sum(
            weight / each.figures.density_lb_per_gal
            for weight, each in zip(weights, parts, strict=True)
        ),
        pct=100 * lb / mass_lb,
    )
