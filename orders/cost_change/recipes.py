"""Wishes of saved blends met again at new costs: where another recipe would be cheaper."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Final

from blendshop.errors import DomainError
from formulas.contracts.formulation import formulate
from formulas.engine_bridge import Catalogue
from formulas.models import BlendRevision
from orders.cost_change.blend_rows import BlendRow
from orders.frozen.better_recipes import BetterRecipe, BetterRecipes, ShareThenNow

#: So many blends with most money at stake are solved anew: some seconds of a worker.
MOST_SOLVED: Final = 20
#: Differences below this, percent by weight, are the rounding of a recipe.
_WORTH_SAYING_PCT: Final = 0.05


def better_recipes(rows: Sequence[BlendRow], catalogue: Catalogue) -> BetterRecipes:
    """Of the first ``MOST_SOLVED`` rows those whose wish has a cheaper recipe at these costs."""
    asked = {row.revision_id: row for row in rows[:MOST_SOLVED] if row.gal > 0}
    found: list[BetterRecipe] = []
    undecided = 0
    revisions = BlendRevision.objects.filter(pk__in=asked).prefetch_related("lines__stock")
    for revision in revisions:
        try:
            better = _better(revision, asked[revision.pk], catalogue)
        except DomainError:
            undecided += 1
        else:
            found += [better] if better else []
    found.sort(key=lambda each: -_saved(each))
    return BetterRecipes(asked=len(asked), undecided=undecided, better=tuple(found))


def _saved(each: BetterRecipe) -> float:
    return float(each.saved_cost_per_gal - each.best_cost_per_gal) * each.gal


def _better(revision: BlendRevision, row: BlendRow, catalogue: Catalogue) -> BetterRecipe | None:
    solution = formulate(revision.wished.contract_json(), catalogue=catalogue).solution
    if solution is None or solution.answer.is_stopped:
        return None
    best = solution.answer.totals.cost_per_gal
    if best is None or best >= row.after_per_gal:
        return None
    saved = {line.stock.code: line.pct for line in revision.lines.all()}
    names = {line.stock.code: line.stock.name for line in revision.lines.all()} | catalogue.names
    shares = {share.code: share.pct for share in solution.blend.shares}
    changed = tuple(
        ShareThenNow(code, names[code], saved.get(code, 0.0), shares.get(code, 0.0))
        for code in dict.fromkeys([*saved, *shares])
        if abs(saved.get(code, 0.0) - shares.get(code, 0.0)) > _WORTH_SAYING_PCT
    )
    if not changed:
        return None
    return BetterRecipe(
        revision_id=revision.pk,
        saved_cost_per_gal=row.after_per_gal,
        best_cost_per_gal=best,
        gal=row.gal,
        shares=changed,
    )
