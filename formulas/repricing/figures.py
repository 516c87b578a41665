"""What recipes cost in a catalogue: sums over the lines of all of them, rounded like money."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from formulas.engine.blend.price_matrix import costs_of_lines_per_lb
from formulas.engine_bridge import Catalogue, cost_as_float, unit_costs
from formulas.repricing.blocks import Integers, Recipes


@dataclass(frozen=True, slots=True)
class RecipeCosts:
    """By revision, costs in ten-thousandths of a dollar.

    Where ``is_priced`` is False a stock has no cost and the costs mean nothing. ``unavailable``
    has the codes, with commas, of those recipes alone that hold a stock which is retired, short or
    without a cost, by their place.
    """

    revision_ids: Integers
    per_lb: Integers
    per_gal: Integers
    is_priced: np.typing.NDArray[np.bool_]
    unavailable: dict[int, str]


def recipe_costs(recipes: Recipes, catalogue: Catalogue) -> RecipeCosts:
    """Every recipe at the catalogue's costs."""
    codes = catalogue.codes
    known = max(codes, default=0) + 1
    cost, is_out = np.full(known, np.nan), np.zeros(known, dtype=bool)
    for pk, code in codes.items():
        if code in catalogue.cost_per_lb:
            cost[pk] = cost_as_float(catalogue.cost_per_lb[code])
        is_out[pk] = code in catalogue.left_out
    number = len(recipes.revision_ids)
    recipe = np.repeat(np.arange(number), recipes.line_counts)
    per_lb = costs_of_lines_per_lb(recipe, recipes.pct, cost[recipes.stock_ids], number)
    is_priced = ~np.isnan(per_lb)
    per_lb = np.where(is_priced, per_lb, 0.0)
    return RecipeCosts(
        revision_ids=recipes.revision_ids,
        per_lb=unit_costs(per_lb),
        per_gal=unit_costs(per_lb * recipes.density_lb_per_gal),
        is_priced=is_priced,
        unavailable=_named(recipe, recipes.stock_ids, is_out, codes),
    )


def _named(
    recipe: Integers,
    stock_ids: Integers,
    is_out: np.typing.NDArray[np.bool_],
    codes: dict[int, str],
) -> dict[int, str]:
    named: dict[int, list[str]] = {}
    for line in np.flatnonzero(is_out[stock_ids]).tolist():
        named.setdefault(int(recipe[line]), []).append(codes[int(stock_ids[line])])
    return {place: ", ".join(found) for place, found in named.items()}
