"""What a label is drafted from: the figures a part is sold as, and the contents of its load.

The figures are those of every paper (``production/sold_as.py``). Sources come from the contents
of the load that is printed, density and net contents from its record.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping
from dataclasses import replace
from datetime import date

import numpy as np
from django.utils import timezone

from formulas.engine.composition import OTHER_INGREDIENTS
from formulas.engine.label import guarantee
from formulas.engine.label.rules import Kind
from formulas.engine.label.sources import chelated_parts, label_sources
from formulas.engine.plant.boxes import Boxes
from formulas.engine.plant.load import Heel
from formulas.engine.result import Share
from orders.frozen.load_plan import LoadPlan
from orders.labels.batch_contents import Contents
from orders.models import BatchPart, Order, OrderEvent, PlantProfile
from orders.production.net_weight import package_gal
from orders.production.sold_as import SoldAs, jurisdiction


def label_basis(
    sold: SoldAs,
    printed: Contents,
    chelated: Mapping[str, float],
    *,
    plant: PlantProfile,
    delivered: date | None,
) -> guarantee.LabelBasis:
    """The figures of ``sold`` with sources and net contents of what is ``printed``.

    ``chelated`` is what to guarantee of it, percent by weight; ``delivered`` the day it left.
    """
    part, density = sold.part, sold.record.density
    to = part.consignment
    forms = sold.basis.analysis
    return guarantee.LabelBasis(
        analysis=forms,
        kind=Kind.SPECIALTY,
        sources=(*_nutrient_sources(printed), *_other_sources(printed)),
        density_lb_per_gal=density.lb_per_gal,
        volume_gal=package_gal(part),
        # The plan's analysis is rounded: a part must not exceed its whole by that.
        chelated={key: min(pct, forms.get(key, 0.0)) for key, pct in chelated.items()},
        jurisdiction=jurisdiction(part),
        particulars=guarantee.Particulars(
            lot=part.batch.number,
            guarantor=f"{plant.name}, {plant.address}",
            purchaser=to.customer_name,
            delivered_on=None if delivered is None else delivered.isoformat(),
        ),
        promised=sold.basis.promised,
        lines=sold.basis.lines,
    )


def delivered_on(parts: Iterable[BatchPart]) -> dict[int, date]:
    """The day each part's order left, by the order's id; one that is here is left out."""
    orders = {part.order_line.order_id for part in parts}
    shipped = OrderEvent.objects.filter(order__in=orders, to_status=Order.Status.SHIPPED)
    return {event.order_id: timezone.localdate(event.at) for event in shipped.order_by("pk")}


def chelated(contents: Contents) -> dict[str, float]:
    """Percent of the load that its chelate stocks bring, by metal."""
    return chelated_parts(contents.shares, {each.code: each.stock() for each in contents.stocks})


def least_chelated(plan: LoadPlan, planned: Contents) -> dict[str, float]:
    """The least of that over all weights on target; a heel counts as holding none."""
    stocks = {each.code: each.stock() for each in planned.stocks}
    return Boxes(
        stocks=tuple(
            replace(stock, analysis=chelated_parts([Share(stock.code, 100.0)], stocks))
            for stock in (stocks[step.code] for step in plan.steps)
        ),
        weight_lb=np.array([step.weight_lb for step in plan.steps]),
        tolerance_lb=np.array([step.tolerance_lb or 0.0 for step in plan.steps]),
        heel=None if plan.heel is None else Heel(plan.heel.mass_lb, plan.heel.volume_gal, {}),
    ).extremes_pct()[0]


def _nutrient_sources(contents: Contents) -> tuple[guarantee.LabelSource, ...]:
    """What has an origin of its own is not ascribed to nutrient sources."""
    apart = frozenset(OTHER_INGREDIENTS)
    stocks = {
        each.code: each.stock(without=apart if each.figures.other_origin else frozenset())
        for each in contents.stocks
    }
    terms = {each.code: _terms(each.figures.derived_from) for each in contents.stocks}
    return label_sources(contents.shares, stocks, terms)


def _other_sources(contents: Contents) -> Iterator[guarantee.LabelSource]:
    """What the ingredients that are no plant nutrient come from, by how much of them it brings."""
    for each in contents.stocks:
        supplies = {
            key: pct * each.pct / 100
            for key, pct in each.analysis.items()
            if key in OTHER_INGREDIENTS
        }
        for term in _terms(each.figures.other_origin) if supplies else ():
            yield guarantee.LabelSource(term, supplies, share_pct=sum(supplies.values()))


def _terms(text: str) -> tuple[str, ...]:
    return tuple(term.strip() for term in text.split(",") if term.strip())
