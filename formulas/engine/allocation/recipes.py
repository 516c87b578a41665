"""What a changed recipe of an open order may hold: which stocks, within which rows."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from typing import Final

import numpy as np

from formulas.engine.allocation.orders import OpenOrder, own_lb_per_lb
from formulas.engine.blend.programs import Floats, Indices
from formulas.engine.blend.stock_table import N_COLUMN, SLOW_COLUMNS, TABLE_COLUMN, content_table
from formulas.engine.problem import (
    CompatibilityRule,
    Effect,
    Stock,
)

#: The solver's noise in a share.
_SMALLEST: Final = 1e-9
#: A coefficient for each stock, and the two limits.
Row = tuple[Floats, float, float]


def guarantee_rows(
    order: OpenOrder, stocks: Sequence[Stock], rules: Sequence[CompatibilityRule]
) -> Iterator[Row]:
    """What keeps a changed recipe of these stocks within the order's guarantees.

    Each row is (a coefficient for each stock, least, most), in percent of the order.
    """
    table = content_table(stocks)
    for wish in order.wishes:
        content = table[:, TABLE_COLUMN[wish.nutrient]]
        if wish.min_pct is not None:
            yield content - wish.min_pct, 0.0, np.inf
        if wish.max_pct is not None:
            yield content - wish.max_pct, -np.inf, 0.0
    if order.slow_release is not None:
        slow, total = table[:, SLOW_COLUMNS].sum(axis=1), table[:, N_COLUMN]
        if (least := order.slow_release.min_pct) is not None:
            yield slow - least / 100.0 * total, 0.0, np.inf
        if (most := order.slow_release.max_pct) is not None:
            yield slow - most / 100.0 * total, -np.inf, 0.0
    for row in _share_limits(stocks, rules):
        yield 100.0 * row, -np.inf, 0.0


def _share_limits(stocks: Sequence[Stock], rules: Sequence[CompatibilityRule]) -> Iterator[Floats]:
    """Own limits, and limit rules as if the other stock were always there: on the safe side."""
    for i, stock in enumerate(stocks):
        if stock.max_pct < 100:
            row = np.full(len(stocks), -stock.max_pct / 100.0)
            row[i] += 1.0
            yield row
    for rule in rules:
        if rule.effect is not Effect.LIMIT:
            continue
        is_b = np.array([rule.trait_b in stock.traits for stock in stocks], dtype=float)
        for j in np.flatnonzero(is_b):
            limited = np.array(
                [rule.trait_a in s.traits and i != j for i, s in enumerate(stocks)], dtype=float
            )
            if limited.any() and rule.largest_ratio is not None:
                yield limited - rule.largest_ratio * is_b
            elif limited.any():
                yield limited - (rule.largest_pct or 0.0) / 100.0


def usable(
    order: OpenOrder, stocks: Sequence[Stock], rules: Sequence[CompatibilityRule]
) -> Indices:
    """Stocks of the recipe and those that may join it (positions): none that must not meet another.

    Candidates join cheapest first, each only if it may meet all that joined before, so that a
    changed recipe never needs a yes/no column for a forbidden pair. This may leave out a change
    that would be possible, never let in one that is not.
    """
    own = own_lb_per_lb(order, stocks)
    recipe = np.flatnonzero(own > 0)
    exclude = order.exclude | frozenset(_limited_by_own(own, stocks, rules))
    blocks = [rule for rule in rules if rule.effect is Effect.BLOCKS]
    joined = [int(i) for i in recipe]
    for i in sorted(range(len(stocks)), key=lambda i: (stocks[i].cost_per_lb, stocks[i].code)):
        if i in joined or stocks[i].code in exclude:
            continue
        if not any(_must_not_meet(stocks[i], stocks[j], blocks) for j in joined):
            joined.append(i)
    return np.array(sorted(joined), dtype=np.int32)


def _limited_by_own(
    own: Floats, stocks: Sequence[Stock], rules: Sequence[CompatibilityRule]
) -> Iterator[str]:
    """Stocks that would bring a limit the own recipe is above as long as they are not in it.

    A recipe half own and half changed would break it, so they do not join.
    """
    for rule in rules:
        if rule.effect is not Effect.LIMIT:
            continue
        is_a = np.array([rule.trait_a in stock.traits for stock in stocks])
        is_b = np.array([rule.trait_b in stock.traits for stock in stocks])
        for stock, joins in zip(stocks, is_b & (own == 0), strict=True):
            if not joins:
                continue
            if rule.largest_ratio is None:
                most = (rule.largest_pct or 0.0) / 100.0
            else:
                most = rule.largest_ratio * own[is_b].sum()
            if own[is_a].sum() > most + _SMALLEST:
                yield stock.code


def _must_not_meet(first: Stock, second: Stock, blocks: Sequence[CompatibilityRule]) -> bool:
    return any(
        (rule.trait_a in first.traits and rule.trait_b in second.traits)
        or (rule.trait_b in first.traits and rule.trait_a in second.traits)
        for rule in blocks
    )
