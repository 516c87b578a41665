"""Nitrogen and weight of many saved recipes at once, worked out once for a catalogue."""

from __future__ import annotations

import math
from collections import defaultdict
from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

from django.db.models import F, QuerySet

from formulas.contracts.formulation_answer import PLACES
from formulas.engine.density import blend_density_lb_per_gal
from formulas.engine.result import Share
from formulas.engine.work.once import once_per_value
from formulas.engine_bridge import Catalogue
from formulas.models import BlendRevision, RevisionLine
from orders.planning.recipe_density import SAME, measured_lb_per_gal, newest_measured


@dataclass(frozen=True, slots=True)
class SavedRecipe:
    """Total nitrogen in percent by weight, and what a gallon weighs today at 60 F."""

    n_pct: float
    lb_per_gal: float


def saved_recipes(
    revisions: QuerySet[BlendRevision, dict[str, Any]], catalogue: Catalogue
) -> Mapping[int, SavedRecipe]:
    """Of each revision the figures ``recipe_density_lb_per_gal`` and its analysis give.

    ``revisions`` are their keys, as a subquery. With a stock that is not in the catalogue it is
    the density it was saved with.
    """
    known = _modelled(catalogue)
    keys = set(revisions.values_list("pk", flat=True))
    if not keys <= known.keys():
        known.update(_read(revisions, catalogue))
    found = {pk: known[pk] for pk in keys}
    measured = BlendRevision.objects.filter(
        pk__in=revisions, measured_densities__isnull=False
    ).prefetch_related("measured_densities__reading__set_aside")
    for row in measured.defer("wish", "answer").distinct():
        newest = newest_measured(row)
        if newest is not None:
            weighs = round(measured_lb_per_gal(newest), PLACES)
            found[row.pk] = SavedRecipe(found[row.pk].n_pct, weighs)
    return found


@once_per_value
def _modelled(_catalogue: Catalogue) -> dict[int, SavedRecipe]:
    """What was worked out of this very catalogue so far: a saved recipe is never written again."""
    return {}


def _read(
    revisions: QuerySet[BlendRevision, dict[str, Any]], catalogue: Catalogue
) -> dict[int, SavedRecipe]:
    stocks = {stock.code: stock for stock in catalogue.stocks}
    shares = defaultdict[int, list[Share]](list)
    lines = RevisionLine.objects.filter(revision__in=revisions).order_by("revision", "pk")
    for pk, code, pct in lines.values_list("revision", "stock__code", "pct"):
        shares[pk].append(Share(code, pct))
    rows = BlendRevision.objects.filter(pk__in=revisions).annotate(n=F("answer__analysis__N"))
    found = {}
    for pk, saved, n_pct in rows.values_list("pk", "density_lb_per_gal", "n"):
        weighs = saved
        if all(share.code in stocks for share in shares[pk]):
            today = blend_density_lb_per_gal(stocks, shares[pk])
            weighs = saved if math.isclose(today, saved, rel_tol=SAME) else round(today, PLACES)
        found[pk] = SavedRecipe(n_pct or 0.0, weighs)
    return found
