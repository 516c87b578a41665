"""A given recipe and everything that follows from it ("half of this, half of that")."""

from __future__ import annotations

import math
from collections.abc import Sequence

import numpy as np

from formulas.engine.blend.findings import recipe_findings
from formulas.engine.blend.programs import Floats
from formulas.engine.blend.stock_table import (
    N_COLUMN,
    SLOW_COLUMNS,
    TABLE_KEYS,
    content_table,
    stock_table,
)
from formulas.engine.density import blend_density_lb_per_gal, mass_lb_for
from formulas.engine.problem import (
    BadProblem,
    CompatibilityRule,
    FieldError,
    Fill,
    Stock,
)
from formulas.engine.result import Blend, Share
from formulas.engine.validate import (
    SUM_TOLERANCE_PCT,
    errors_of_rules,
    errors_of_stocks,
    fill_errors,
    rule_errors,
    stock_errors,
    unknown_stock,
)


def evaluate(
    stocks: Sequence[Stock],
    shares: Sequence[Share],
    rules: Sequence[CompatibilityRule] = (),
    fill: Fill | None = None,
) -> Blend:
    """The blend of a recipe, with the rules it breaks as findings of severity ``stop``.

    Shares are percent by weight and must add up to 100; raises ``BadProblem`` naming
    ``recipe.0.pct`` and the like otherwise. With ``fill`` charges too small for their scale
    are found as well.
    """
    errors = [
        *(errors_of_stocks(stocks) if isinstance(stocks, tuple) else stock_errors(stocks)),
        *(errors_of_rules(rules) if isinstance(rules, tuple) else rule_errors(rules)),
        *_share_errors(stocks, shares),
    ]
    if fill is not None:
        errors += fill_errors(fill)
    if errors:
        raise BadProblem(tuple(errors))
    pct_of = {share.code: share.pct for share in shares}
    pct = np.array([pct_of.get(stock.code, 0.0) for stock in stocks], dtype=float)
    return blend_of(stocks, content_table(stocks), pct, rules, fill)


def blend_of(
    stocks: Sequence[Stock],
    table: Floats,
    pct: Floats,
    rules: Sequence[CompatibilityRule],
    fill: Fill | None,
) -> Blend:
    """The blend of sound shares: ``table`` from ``content_table(stocks)``, ``pct`` per stock."""
    contents = ((pct / 100.0) @ table).tolist()
    total_n, slow_n = contents[N_COLUMN], sum([contents[column] for column in SLOW_COLUMNS])
    charged = (pct > 0).nonzero()[0].tolist()
    used = tuple(
        [
            Share(stocks[i].code, share)
            for i, share in zip(charged, pct[charged].tolist(), strict=True)
        ]
    )
    density = blend_density_lb_per_gal({stocks[i].code: stocks[i] for i in charged}, used)
    mass_lb = None if fill is None else mass_lb_for(fill, density)
    return Blend(
        shares=used,
        analysis={key: value for key, value in zip(TABLE_KEYS, contents, strict=True) if value > 0},
        slow_release_pct=100.0 * slow_n / total_n if total_n > 0 else None,
        density_lb_per_gal=density,
        cost_per_lb=float(pct @ _costs(stocks)) / 100.0,
        findings=recipe_findings(stocks, pct, rules, mass_lb),
    )


def _costs(stocks: Sequence[Stock]) -> Floats:
    if isinstance(stocks, tuple):
        return stock_table(stocks).cost_per_lb
    return np.array([stock.cost_per_lb for stock in stocks], dtype=float)


def _share_errors(stocks: Sequence[Stock], shares: Sequence[Share]) -> list[FieldError]:
    codes = {stock.code for stock in stocks}
    errors: list[FieldError] = []
    seen: set[str] = set()
    for index, share in enumerate(shares):
        if share.code not in codes:
            errors.append(unknown_stock(f"recipe.{index}.code", share.code))
        elif share.code in seen:
            errors.append(FieldError(f"recipe.{index}.code", f"{share.code} is given twice."))
        seen.add(share.code)
        if not (math.isfinite(share.pct) and 0 <= share.pct <= 100):
            errors.append(
                FieldError(f"recipe.{index}.pct", "Must be a number from 0 to 100 percent.")
            )
    total = sum(share.pct for share in shares)
    if not errors and abs(total - 100) > SUM_TOLERANCE_PCT:
        errors.append(FieldError("recipe", f"The shares add up to {total:g} %, not 100 %."))
    return errors
