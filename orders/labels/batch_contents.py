"""What a batch holds, stock by stock: as planned, and as it was really charged.

The plan is frozen, with the lots it was made for. What was charged follows the scale and each
lot's own certificate; where a lot has no figure, the plan's frozen one of its stock stands. A heel
is part of the load and of its analysis, but of which stocks it was made is not known here.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from datetime import date
from typing import Final

from django.db.models import prefetch_related_objects
from django.utils import timezone

from formulas.engine.composition import with_total_n
from formulas.engine.label.metals import METALS, BlendMetals, blend_metals
from formulas.engine.problem import Stock
from formulas.engine.result import Share
from orders.frozen.load_plan import FrozenStock, LoadPlan, PlannedWeighing
from orders.frozen.tank_contents import TankContents
from orders.models import Batch, Charge
from orders.production.as_made import lot_figures
from orders.production.made_record import MadeRecord
from orders.production.steps import Step

#: What a finding about metals calls the heel.
_HEEL: Final = "heel"


@dataclass(frozen=True, slots=True)
class Content:
    """One stock's share of the batch, percent by weight, with the figures that hold for it.

    ``figures`` is the frozen weighing of the plan or of an addition. ``ppm`` has the metals known
    for all of it; ``metal_sources`` says in sentences where those stand.
    """

    pct: float
    figures: FrozenStock
    analysis: Mapping[str, float]
    density_lb_per_gal: float
    ppm: Mapping[str, float]
    metal_sources: tuple[str, ...]

    @property
    def code(self) -> str:
        return self.figures.code

    def stock(self, *, without: frozenset[str] = frozenset()) -> Stock:
        """As the engine's label rules see it, ``without`` some contents."""
        return Stock(
            code=self.code,
            name=self.figures.name,
            density_lb_per_gal=self.density_lb_per_gal,
            cost_per_lb=0.0,
            analysis={key: pct for key, pct in self.analysis.items() if key not in without},
            traits=frozenset(self.figures.traits),
            solutes=self.figures.solutes,
        )


@dataclass(frozen=True, slots=True)
class Contents:
    """All of a batch. ``analysis`` in percent by weight with total N; ``as_of`` a day.

    ``heel_pct`` is what of the load stood in the tank before, percent by weight, and is not among
    the ``stocks``: of a charged batch the ledger knows its stocks, and it is 0.
    """

    stocks: tuple[Content, ...]
    analysis: Mapping[str, float]
    density_lb_per_gal: float
    temperature_f: float
    as_of: date
    is_charged: bool
    heel_pct: float = 0.0

    @property
    def shares(self) -> tuple[Share, ...]:
        return tuple(Share(content.code, content.pct) for content in self.stocks)

    def metals(self) -> BlendMetals:
        """Heavy metals by weight; no figure of a heel is known, so none is passed beside one."""
        heel = (Share(_HEEL, self.heel_pct),) if self.heel_pct > 0 else ()
        return blend_metals((*self.shares, *heel), {each.code: each.ppm for each in self.stocks})


def planned_contents(batch: Batch) -> Contents:
    """What the plan says."""
    plan = batch.load_plan
    heel_pct = _heel_pct(plan, plan.charged_lb)
    return Contents(
        stocks=tuple(
            Content(
                pct=step.pct * (1 - heel_pct / 100),
                figures=step,
                analysis=_planned_analysis(step),
                density_lb_per_gal=step.density_lb_per_gal,
                ppm=_stock_ppm(step),
                metal_sources=tuple(_stock_metal_sources(step)),
            )
            for step in plan.steps
        ),
        analysis=plan.analysis,
        density_lb_per_gal=plan.density_lb_per_gal,
        temperature_f=plan.density_window.temperature_f,
        as_of=timezone.localdate(batch.created_at),
        is_charged=False,
        heel_pct=heel_pct,
    )


def _planned_analysis(step: PlannedWeighing) -> Mapping[str, float]:
    """By the certificates of the lots it was planned with, typical figures for the rest."""
    if not step.lots:
        return step.analysis
    found: dict[str, float] = defaultdict(float)
    rest_lb = max(0.0, step.weight_lb - sum(lot.weight_lb for lot in step.lots))
    parts = [(lot.weight_lb, {**step.analysis, **lot.analysis}) for lot in step.lots]
    for weight_lb, analysis in (*parts, (rest_lb, step.analysis)):
        for key, pct in analysis.items():
            found[key] += pct * weight_lb
    total_lb = rest_lb + sum(lot.weight_lb for lot in step.lots)
    return {key: sum_lb / total_lb for key, sum_lb in found.items()}


def _heel_pct(plan: LoadPlan, charged_lb: float) -> float:
    """The heel's share of a load of which so many pounds were weighed in."""
    if plan.heel is None:
        return 0.0
    return 100 * plan.heel.mass_lb / (plan.heel.mass_lb + charged_lb)


def charged_contents(record: MadeRecord) -> Contents | None:
    """What was charged; None while it is not complete, or no weight of it was written down."""
    made, density = record.complete, record.density
    if made is None:
        return None
    charges = with_metals([record])
    return Contents(
        stocks=tuple(_put_together([*_of_charges(record.steps), *_of_heel(record.heel)])),
        analysis=with_total_n(made.analysis),
        density_lb_per_gal=density.lb_per_gal,
        temperature_f=density.temperature_f,
        as_of=timezone.localdate(max(charge.at for charge in charges)),
        is_charged=True,
    )


def with_metals(records: Iterable[MadeRecord]) -> list[Charge]:
    """The charges of the records, once the metals of their lots are read, in one query."""
    charges = [charge for record in records for step in record.steps for charge in step.charges]
    prefetch_related_objects(charges, "lot__metals")
    return charges


@dataclass(frozen=True, slots=True)
class _Portion:
    """Pounds of a stock with the figures they are known by: of a lot, or of the heel."""

    figures: FrozenStock
    lb: float
    analysis: Mapping[str, float]
    density_lb_per_gal: float
    ppm: Mapping[str, float]
    metal_sources: tuple[str, ...]


def _of_charges(steps: Sequence[Step]) -> Iterator[_Portion]:
    for step in steps:
        for charge in step.charges:
            lot = lot_figures(step.figures, charge.lot)
            yield _Portion(
                figures=step.figures,
                lb=float(charge.mass_lb),
                analysis=lot.analysis,
                density_lb_per_gal=lot.density_lb_per_gal,
                ppm=_charge_ppm(step, charge),
                metal_sources=tuple(_charge_metal_sources(step, charge)),
            )


def _of_heel(heel: TankContents | None) -> Iterator[_Portion]:
    """What the batch was charged onto: it is in the liquid, so it is on the label."""
    if heel is None:
        return
    for stock in heel.stocks:
        if (lb := heel.mass_lb * stock.pct / 100) > 0:
            yield _Portion(
                figures=stock,
                lb=lb,
                analysis=stock.analysis,
                density_lb_per_gal=stock.density_lb_per_gal,
                ppm=_stock_ppm(stock),
                metal_sources=tuple(_stock_metal_sources(stock)),
            )


def _put_together(portions: Sequence[_Portion]) -> list[Content]:
    """Each stock once, in the order it came in, lots put together by weight."""
    total_lb = sum(each.lb for each in portions)
    by_stock: dict[str, list[_Portion]] = defaultdict(list)
    for each in portions:
        by_stock[each.figures.code].append(each)
    return [_content(parts, total_lb) for parts in by_stock.values()]


def _content(parts: Sequence[_Portion], total_lb: float) -> Content:
    stock_lb = sum(each.lb for each in parts)
    analysis: dict[str, float] = defaultdict(float)
    volume_gal = 0.0
    for each in parts:
        share = each.lb / stock_lb
        volume_gal += share / each.density_lb_per_gal
        for key, pct in each.analysis.items():
            analysis[key] += share * pct
    ppm = {
        metal: sum(each.lb / stock_lb * each.ppm[metal] for each in parts)
        for metal in METALS
        if all(metal in each.ppm for each in parts)
    }
    sources = [text for each in parts for text in each.metal_sources]
    return Content(
        pct=100 * stock_lb / total_lb,
        figures=parts[0].figures,
        analysis=dict(analysis),
        density_lb_per_gal=1 / volume_gal,
        ppm=ppm,
        metal_sources=tuple(dict.fromkeys(sources)),
    )


def _charge_ppm(step: Step, charge: Charge) -> dict[str, float]:
    return _stock_ppm(step.figures) | ({} if charge.lot is None else charge.lot.metals_ppm())


def _charge_metal_sources(step: Step, charge: Charge) -> list[str]:
    own: dict[str, list[str]] = defaultdict(list)
    for row in charge.lot.metals.all() if charge.lot else ():
        own[row.source].append(row.metal)
    of_lot = {metal for metals in own.values() for metal in metals}
    return [
        f"Metals of lot {charge.lot} ({', '.join(metals)}): {source}."
        for source, metals in own.items()
    ] + _stock_metal_sources(step.figures, but=of_lot)


def _stock_ppm(stock: FrozenStock) -> dict[str, float]:
    return {metal: stock.metals[metal].ppm for metal in METALS if metal in stock.metals}


def _stock_metal_sources(stock: FrozenStock, but: set[str] | None = None) -> list[str]:
    """Where the figures of a stock stand, one sentence a certificate, ``but`` for some metals."""
    by_source: dict[str, list[str]] = {}
    for metal in METALS:
        figure = stock.metals.get(metal)
        if figure is not None and metal not in (but or ()):
            dated = f", analysed {figure.measured_on}" if figure.measured_on else ""
            by_source.setdefault(f"{figure.source}{dated}", []).append(metal)
    return [
        f"Metals of {stock.name} ({', '.join(metals)}): {source}."
        for source, metals in by_source.items()
    ]
