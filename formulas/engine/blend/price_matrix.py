"""Many recipes repriced at once: one matrix product instead of a loop of solves."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any

import numpy as np
from numpy.typing import NDArray

from formulas.engine.blend.programs import Floats
from formulas.engine.problem import BadProblem, FieldError


def share_matrix(recipes: Sequence[Mapping[str, float]], codes: Sequence[str]) -> Floats:
    """Shares in percent, shape (recipes, codes), from one ``{code: pct}`` a recipe.

    Raises ``BadProblem`` naming ``recipes.3.ABC`` if a recipe uses a code that is not listed.
    """
    column = {code: position for position, code in enumerate(codes)}
    shares = np.zeros((len(recipes), len(codes)))
    errors = []
    for row, recipe in enumerate(recipes):
        for code, pct in recipe.items():
            if code not in column:
                errors.append(FieldError(f"recipes.{row}.{code}", f"There is no stock {code}."))
            else:
                shares[row, column[code]] = pct
    if errors:
        raise BadProblem(tuple(errors))
    return shares


def recipe_costs_per_lb(shares_pct: Floats, costs_per_lb: Floats) -> Floats:
    """Cost of each recipe, dollars per lb of blend.

    ``shares_pct`` has the shape (recipes, stocks). ``costs_per_lb`` has the shape (stocks,), or
    (stocks, scenarios) for several price lists at once; the result (recipes,) or (recipes,
    scenarios). Raises ``BadProblem`` if a number is not finite.

    Half of a 20 cent stock and half of a 40 cent one::

        >>> recipe_costs_per_lb(np.array([[50.0, 50.0]]), np.array([0.20, 0.40])).tolist()
        [0.3]
    """
    for name, values in (("recipes", shares_pct), ("costs", costs_per_lb)):
        if not np.isfinite(values).all():
            raise BadProblem((FieldError(name, "Every number must be finite."),))
    costs: Floats = (shares_pct @ costs_per_lb) / 100.0
    return costs


def costs_of_lines_per_lb(
    recipe_of_line: NDArray[np.integer[Any]], pct: Floats, cost_per_lb: Floats, recipes: int
) -> Floats:
    """The same product where most shares are zero: one entry a line, dollars per lb of blend.

    ``recipe_of_line`` counts from 0. Lines are added up in their order, so that a recipe costs the
    same to the last digit whichever stand beside it. NaN where a line's cost is.
    """
    costs: Floats = np.bincount(recipe_of_line, pct * cost_per_lb, minlength=recipes) / 100.0
    return costs
