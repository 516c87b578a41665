"""What a label is drafted from: the promise of a plan with room, or the contents of a load.

A label prints the promise, the same for every load of a revision: the lines written down with
its first quote or plan, each true of every load weighed on target, whatever lots went in. Sources
and density come from the contents of the load that is printed.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import replace
from datetime import date
from decimal import Decimal

import numpy as np
from django.utils import timezone

from formulas.engine.composition import OTHER_INGREDIENTS
from formulas.engine.label import guarantee
from formulas.engine.label.grade_rules import GRADE_RULES
from formulas.engine.label.rules import PRIMARY, Kind
from formulas.engine.label.sources import chelated_parts, label_sources
from formulas.engine.plant.boxes import Boxes
from formulas.engine.plant.load import Heel
from formulas.engine.result import Share
from orders.frozen.load_plan import LoadPlan
from orders.labels.batch_contents import Contents
from orders.models import BatchPart, PlantProfile
from orders.production.as_made import promised


def promise_basis(part: BatchPart, planned: Contents, printed: Contents) -> guarantee.LabelBasis:
    """From the plan: the worst case over all weights on target, held to the promised lines.

    A plan of before there were tolerances knows no worst case: its expected analysis counts.
    Sources, density and net contents are those of ``printed``.
    """
    plan = part.batch.load_plan
    if not plan.has_tolerances:
        return contents_basis(part, printed, planned.analysis, chelated(planned))
    analysis = plan.least_pct or plan.analysis
    basis = contents_basis(part, printed, analysis, least_chelated(plan, planned))
    return replace(basis, lines=_own_lines(part) or None)


def _own_lines(part: BatchPart) -> dict[str, Decimal]:
    """The lines the load keeps, as far as they are the part's own: another product may share it."""
    kept, own = part.batch.load_plan.printed_pct, part.consignment.printed_pct
    if not own:
        return dict(kept)
    return {key: min(pct, own[key]) for key, pct in kept.items() if key in own}


def contents_basis(
    part: BatchPart,
    contents: Contents,
    analysis: Mapping[str, float],
    chelated: Mapping[str, float],
) -> guarantee.LabelBasis:
    """``analysis`` and ``chelated`` are what to guarantee from, percent by weight."""
    plant = PlantProfile.load()
    to, delivered = part.consignment, delivered_on(part)
    state = to.ship_to.state
    # The total follows from the nitrogen forms.
    forms = {key: pct for key, pct in analysis.items() if key != "N"}
    return guarantee.LabelBasis(
        analysis=forms,
        kind=Kind.SPECIALTY,
        sources=(*_nutrient_sources(contents), *_other_sources(contents)),
        density_lb_per_gal=contents.density_lb_per_gal,
        volume_gal=to.filled_gal / part.package_count,
        # The plan's analysis is rounded: a part must not exceed its whole by that.
        chelated={key: min(pct, forms.get(key, 0.0)) for key, pct in chelated.items()},
        jurisdiction=state if state in GRADE_RULES else None,
        particulars=guarantee.Particulars(
            lot=part.batch.number,
            guarantor=f"{plant.name}, {plant.address}",
            purchaser=to.customer_name,
            delivered_on=None if delivered is None else delivered.isoformat(),
        ),
        promised=_promised(part),
    )


def _promised(part: BatchPart) -> dict[str, float]:
    """The minima that were promised, a lower one agreed since among them.

    In a plan of before there were tolerances the grade follows from its analysis.
    """
    minima, _ = promised(part.batch)
    if part.batch.load_plan.has_tolerances:
        return dict(minima)
    return {key: pct for key, pct in minima.items() if key not in PRIMARY}


def delivered_on(part: BatchPart) -> date | None:
    """The day the part's order left; None while it is here."""
    order = part.order_line.order
    shipped = order.events.filter(to_status=order.Status.SHIPPED).order_by("pk").last()
    return None if shipped is None else timezone.localdate(shipped.at)


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
