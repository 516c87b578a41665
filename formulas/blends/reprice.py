"""Some saved recipes at today's costs, for a page that shows them."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from decimal import Decimal

import numpy as np
from django.db.models import QuerySet, prefetch_related_objects

from blendshop.money import unit_price
from formulas.engine_bridge import Catalogue
from formulas.models import BlendRevision
from formulas.repricing.blocks import Recipes
from formulas.repricing.figures import recipe_costs


@dataclass(frozen=True, slots=True)
class Repriced:
    """A revision's recipe at the catalogue's costs, dollars to four places.

    ``unavailable`` says of each stock of the recipe that is retired, short or without a cost why
    it is; the costs are None only if a stock has no cost at all.
    """

    revision_id: int
    cost_per_lb: Decimal | None
    cost_per_gal: Decimal | None
    saved_cost_per_lb: Decimal | None
    unavailable: tuple[str, ...]


def reprice_revisions(
    revisions: Iterable[BlendRevision] | QuerySet[BlendRevision], catalogue: Catalogue
) -> tuple[Repriced, ...]:
    """Each revision's cost on the catalogue's day, in the order given; two queries at most."""
    rows = list(revisions)
    prefetch_related_objects(rows, "lines")
    lines = [line for row in rows for line in row.lines.all()]
    costs = recipe_costs(
        Recipes(
            revision_ids=np.array([row.pk for row in rows], dtype=np.int64),
            density_lb_per_gal=np.array([row.density_lb_per_gal for row in rows], dtype=float),
            line_counts=np.array([len(row.lines.all()) for row in rows], dtype=np.int64),
            stock_ids=np.array([line.stock_id for line in lines], dtype=np.int64),
            pct=np.array([line.pct for line in lines], dtype=float),
        ),
        catalogue,
    )
    code_of = catalogue.codes
    return tuple(
        Repriced(
            revision_id=row.pk,
            cost_per_lb=_dollars(costs.per_lb[place]) if costs.is_priced[place] else None,
            cost_per_gal=_dollars(costs.per_gal[place]) if costs.is_priced[place] else None,
            saved_cost_per_lb=row.solved.totals.cost_per_lb,
            unavailable=tuple(
                catalogue.left_out[code]
                for code in (code_of[line.stock_id] for line in row.lines.all())
                if code in catalogue.left_out
            ),
        )
        for place, row in enumerate(rows)
    )


def _dollars(ticks: np.int64) -> Decimal:
    """Ten-thousandths of a dollar as money."""
    return unit_price(Decimal(int(ticks)) / 10_000)
