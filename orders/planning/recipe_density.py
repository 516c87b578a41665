"""The density a blend is made and sold by: the model's, put right by what a batch measured."""

from __future__ import annotations

import math
from collections.abc import Mapping
from typing import Final

from formulas.contracts.formulation_answer import PLACES
from formulas.engine.density import blend_density_lb_per_gal
from formulas.engine.density.reference_temperature import REFERENCE_F
from formulas.engine.plant.as_made_density import density_at_reference
from formulas.engine.problem import Stock
from formulas.engine.result import Share
from formulas.models import BlendRevision
from orders.models import MeasuredDensity

#: Closer than this two densities are the same figure, rounded at another place.
SAME: Final = 1e-6


def newest_measured(revision: BlendRevision) -> MeasuredDensity | None:
    """The density last adopted from a released batch of this revision.

    One whose reading was set aside as wrong does not count.
    """
    # In Python, so that prefetched rows serve.
    rows = [
        row for row in revision.measured_densities.all() if not hasattr(row.reading, "set_aside")
    ]
    return max(rows, key=lambda row: row.pk, default=None)


def measured_lb_per_gal(measured: MeasuredDensity) -> float:
    """The adopted density at 60 F; older batches were read at the temperature of their plan."""
    return density_at_reference(
        measured.density_lb_per_gal, measured.reference_f, reference_f=REFERENCE_F
    )


def density_correction(revision: BlendRevision, model_density_lb_per_gal: float) -> float:
    """Measured over modelled density at 60 F, by the newest measurement; 1 without any.

    ``model_density_lb_per_gal`` is what the engine makes of the recipe on the stocks in question.
    """
    measured = newest_measured(revision)
    if measured is None:
        return 1.0
    return measured_lb_per_gal(measured) / model_density_lb_per_gal


def load_density_correction(revision: BlendRevision) -> float:
    """What a load's modelled density is put right by: measured over modelled of the same batch.

    A plan with room weighs in somewhat more than the recipe, so the batch that was measured is
    compared with its own plan: the next load of the same weights is as dense as that one was.
    """
    measured = newest_measured(revision)
    if measured is None:
        return 1.0
    plan = measured.reading.batch.load_plan
    modelled = plan.density_lb_per_gal / plan.density_correction
    # Both carried alike: plans of before were read, and worked out, at another temperature.
    at_60 = density_at_reference(modelled, measured.reference_f, reference_f=REFERENCE_F)
    return measured_lb_per_gal(measured) / at_60


def recipe_density_lb_per_gal(revision: BlendRevision, stocks: Mapping[str, Stock]) -> float:
    """What a gallon of the revision's recipe weighs on these stocks, by code, at 60 F.

    The revision's own density as long as that is the same figure. Raises KeyError for a stock
    that is not among them.
    """
    shares = [Share(line.stock.code, line.pct) for line in revision.lines.all()]
    modelled = blend_density_lb_per_gal(stocks, shares)
    today = modelled * density_correction(revision, modelled)
    if math.isclose(today, revision.density_lb_per_gal, rel_tol=SAME):
        return revision.density_lb_per_gal
    return round(today, PLACES)
