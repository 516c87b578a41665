"""Saved recipes at today's costs: all of them in one matrix product, never a loop of solves."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from decimal import Decimal

import numpy as np
from django.db.models import QuerySet, prefetch_related_objects

from formulas.engine.blend.price_matrix import recipe_costs_per_lb, share_matrix
from formulas.engine_bridge import Catalogue, cost_as_float, unit_cost
from formulas.models import BlendRevision


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
    code_of = catalogue.codes
    recipes = [{code_of[line.stock_id]: line.pct for line in row.lines.all()} for row in rows]
    codes = list(catalogue.cost_per_lb)
    known = [
        {code: pct for code, pct in recipe.items() if code in catalogue.cost_per_lb}
        for recipe in recipes
    ]
    costs = recipe_costs_per_lb(
        share_matrix(known, codes),
        np.array([cost_as_float(cost) for cost in catalogue.cost_per_lb.values()]),
    )
    found = []
    for row, recipe, priced, cost in zip(rows, recipes, known, costs.tolist(), strict=True):
        is_priced = len(priced) == len(recipe)
        found.append(
            Repriced(
                revision_id=row.pk,
                cost_per_lb=unit_cost(cost) if is_priced else None,
                cost_per_gal=unit_cost(cost * row.density_lb_per_gal) if is_priced else None,
                saved_cost_per_lb=row.solved.totals.cost_per_lb,
                unavailable=tuple(
                    catalogue.left_out[code] for code in recipe if code in catalogue.left_out
                ),
            )
        )
    return tuple(found)
