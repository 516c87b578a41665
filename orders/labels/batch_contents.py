"""What a batch holds, stock by stock: as planned, and as it was really charged.

The plan is frozen. What was charged follows the scale and each lot's own certificate; where a
lot has no figure, the plan's frozen one of its stock stands.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import date

from django.db.models import prefetch_related_objects
from django.utils import timezone

from formulas.engine.composition import with_total_n
from formulas.engine.label.metals import METALS
from formulas.engine.problem import Stock
from formulas.engine.result import Share
from orders.frozen.load_plan import FrozenStock
from orders.models import Batch, Charge
from orders.production.as_made import as_made, lot_figures
from orders.production.density_read import batch_density
from orders.production.steps import Step, batch_steps


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
        )


@dataclass(frozen=True, slots=True)
class Contents:
    """All of a batch. ``analysis`` in percent by weight with total N; ``as_of`` a day."""

    stocks: tuple[Content, ...]
    analysis: Mapping[str, float]
    density_lb_per_gal: float
    temperature_f: float
    as_of: date
    is_charged: bool

    @property
    def shares(self) -> tuple[Share, ...]:
        return tuple(Share(content.code, content.pct) for content in self.stocks)


def planned_contents(batch: Batch) -> Contents:
    """What the plan says."""
    plan = batch.load_plan
    return Contents(
        stocks=tuple(
            Content(
                pct=step.pct,
                figures=step,
                analysis=step.analysis,
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
    )


def charged_contents(batch: Batch) -> Contents | None:
    """What was charged; None while it is not complete, or was weighed from the printed ticket.

    The density is the newest counting reading's, at the plan's temperature, where there is one.
    """
    if batch.status in (Batch.Status.PLANNED, Batch.Status.CHARGING):
        return None
    steps = batch_steps(batch)
    made = as_made(batch, steps)
    if made is None:
        return None
    density = batch_density(batch, made.density_lb_per_gal)
    charges = [charge for step in steps for charge in step.charges]
    prefetch_related_objects(charges, "lot__metals")
    total_lb = float(sum(charge.mass_lb for charge in charges))
    return Contents(
        stocks=tuple(_charged(steps, total_lb)),
        analysis=with_total_n(made.analysis),
        density_lb_per_gal=density.lb_per_gal,
        temperature_f=density.temperature_f,
        as_of=timezone.localdate(max(charge.at for charge in charges)),
        is_charged=True,
    )


def _charged(steps: Sequence[Step], total_lb: float) -> list[Content]:
    """Each stock once, in the order of its first charge, lots put together by weight."""
    by_stock: dict[str, list[tuple[Step, Charge]]] = defaultdict(list)
    for step in steps:
        for charge in step.charges:
            by_stock[step.code].append((step, charge))
    return [_put_together(weighed, total_lb) for weighed in by_stock.values()]


def _put_together(weighed: Sequence[tuple[Step, Charge]], total_lb: float) -> Content:
    stock_lb = float(sum(charge.mass_lb for _, charge in weighed))
    analysis: dict[str, float] = defaultdict(float)
    ppm: dict[str, float] = {}
    volume_gal = 0.0
    for step, charge in weighed:
        share = float(charge.mass_lb) / stock_lb
        lot = lot_figures(step.figures, charge.lot)
        volume_gal += share / lot.density_lb_per_gal
        for key, pct in lot.analysis.items():
            analysis[key] += share * pct
    known = [_charge_ppm(step, charge) for step, charge in weighed]
    for metal in METALS:
        if all(metal in each for each in known):
            ppm[metal] = sum(
                float(charge.mass_lb) / stock_lb * each[metal]
                for (_, charge), each in zip(weighed, known, strict=True)
            )
    sources = [text for step, charge in weighed for text in _charge_metal_sources(step, charge)]
    return Content(
        pct=100 * stock_lb / total_lb,
        figures=weighed[0][0].figures,
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
