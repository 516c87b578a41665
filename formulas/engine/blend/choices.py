"""Yes/no choices: pairs that must not meet, smallest charges, at most so many stocks.

For a stock i that a choice concerns, ``y_i`` is 1 if the stock is used (``x_i <= y_i``)::

    blocks (i, j)           y_i + y_j <= 1
    limit, share p          sum_{i in a, i != j} x_i <= p + (1 - p)(1 - y_j)        each j in b
    limit, ratio r          sum_{i in a, i != j} x_i <= r sum_{b} x + (1 - y_j)     each j in b
    smallest charge s       x_i >= s y_i
    at most m stocks        sum y_i <= m                                     water not counted

In words: a rule acts on two *different* stocks; a stock that carries both traits is compatible
with itself. ``broken`` checks the same rules on a recipe without any of these rows.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import replace

import numpy as np

from formulas.engine.blend.linear_program import Model, Place, Wish
from formulas.engine.blend.programs import Floats, Limits
from formulas.engine.problem import BlendProblem, CompatibilityRule, Effect, Stock
from formulas.engine.wishes import Side, WishId, WishKind

#: A share below this (percent) counts as not used; the solver's own noise is smaller.
USED_PCT = 1e-7
_SLACK_PCT = 1e-7


def pairs(rule: CompatibilityRule, stocks: Sequence[Stock]) -> Iterator[tuple[int, int]]:
    """Positions (i, j) of two different stocks that the rule is about, trait a then trait b."""
    for i, first in enumerate(stocks):
        if rule.trait_a in first.traits:
            for j, second in enumerate(stocks):
                if i != j and rule.trait_b in second.traits:
                    yield i, j


def rule_id(index: int) -> WishId:
    """Which rule of a question is meant, by its position among the question's rules."""
    return WishId(WishKind.RULE, Side.MOST, index=index)


def rule_is_broken(
    rule: CompatibilityRule, stocks: Sequence[Stock], pct: Floats, *, slack_pct: float = _SLACK_PCT
) -> bool:
    """Whether a recipe (shares in percent, one a stock) breaks a ``blocks`` or ``limit`` rule."""
    if rule.effect not in (Effect.BLOCKS, Effect.LIMIT):
        return False
    met = [(i, j) for i, j in pairs(rule, stocks) if pct[j] > USED_PCT]
    if rule.effect is Effect.BLOCKS:
        return any(pct[i] > USED_PCT for i, _ in met)
    of_b = sum(
        float(share)
        for stock, share in zip(stocks, pct, strict=True)
        if rule.trait_b in stock.traits
    )
    limited: dict[int, float] = {}
    for i, j in met:
        limited[j] = limited.get(j, 0.0) + float(pct[i])
    if rule.largest_ratio is not None:
        most = rule.largest_ratio * of_b
    else:
        most = 100.0 if rule.largest_pct is None else rule.largest_pct
    return any(total > most + slack_pct for total in limited.values())


def rule_meets(rule: CompatibilityRule, stocks: Sequence[Stock], pct: Floats) -> bool:
    """Whether both sides of a rule are in the recipe."""
    return any(pct[i] > USED_PCT and pct[j] > USED_PCT for i, j in pairs(rule, stocks))


def choices_are_kept(problem: BlendProblem, stocks: Sequence[Stock], pct: Floats) -> bool:
    """Whether a recipe keeps every rule, the smallest charge and the number of stocks."""
    if not (problem.rules or problem.smallest_charge_pct or problem.most_stocks is not None):
        return True
    used = pct > USED_PCT
    if (used & (pct < problem.smallest_charge_pct - _SLACK_PCT)).any():
        return False
    if problem.most_stocks is not None:
        counted = sum(
            1 for stock, is_used in zip(stocks, used, strict=True) if is_used and not stock.is_water
        )
        if counted > problem.most_stocks:
            return False
    return not any(rule_is_broken(rule, stocks, pct) for rule in problem.rules)


def is_choice(wish: Wish) -> bool:
    """Whether a wish needs binary columns, which the linear program leaves out."""
    kind = wish.id.kind
    return kind is WishKind.RULE or kind is WishKind.SMALLEST_CHARGE or kind is WishKind.MOST_STOCKS


def asked_choices(problem: BlendProblem, wishes: Sequence[Wish]) -> BlendProblem:
    """The problem with only those of its choices that are among ``wishes``."""
    kinds = {wish.kind for wish in wishes}
    kept = {wish.id.index for wish in wishes if wish.kind is WishKind.RULE}
    is_charged = WishKind.SMALLEST_CHARGE in kinds or not problem.smallest_charge_pct
    is_counted = WishKind.MOST_STOCKS in kinds or problem.most_stocks is None
    if is_charged and is_counted and len(kept) == len(problem.rules):
        return problem
    return replace(
        problem,
        rules=tuple(rule for index, rule in enumerate(problem.rules) if index in kept),
        smallest_charge_pct=(
            problem.smallest_charge_pct if WishKind.SMALLEST_CHARGE in kinds else 0.0
        ),
        most_stocks=problem.most_stocks if WishKind.MOST_STOCKS in kinds else None,
    )


def with_choices(model: Model, problem: BlendProblem) -> Model:
    """The model with binary columns for the stocks that a choice concerns, and its rows."""
    binary_column = _binary_columns(model, problem)
    if not binary_column:
        return model
    n, width = len(model.stocks), model.A.shape[1] + len(binary_column)
    rows = _Rows(first=model.A.shape[0], width=width)
    links = [rows.add({i: 1.0, y: -1.0}) for i, y in binary_column.items()]
    wishes: list[Wish] = []

    for index, rule in enumerate(problem.rules):
        places = tuple(_rule_places(rule, model.stocks, binary_column, rows))
        if places:
            wishes.append(Wish(rule_id(index), None, places))
    charge = problem.smallest_charge_pct / 100.0
    if charge > 0:
        added = [rows.add({i: 1.0, y: -charge}) for i, y in binary_column.items()]
        places = tuple(Place(is_row=True, index=row, value=0.0) for row in added)
        charged = WishId(WishKind.SMALLEST_CHARGE, Side.LEAST)
        wishes.append(Wish(charged, problem.smallest_charge_pct, places))
    most = problem.most_stocks
    if most is not None:
        counted = {y: 1.0 for i, y in binary_column.items() if not model.stocks[i].is_water}
        place = Place(is_row=True, index=rows.add(counted), value=float(most))
        wishes.append(Wish(WishId(WishKind.MOST_STOCKS, Side.MOST), float(most), (place,)))

    base, extra = model.base, len(rows.rows)
    row_upper = np.append(base.row_upper, np.full(extra, np.inf))
    row_upper[links] = 0.0  # what a binary column means, no wish
    pad = np.zeros((model.A.shape[0], len(binary_column)))
    return Model(
        stocks=model.stocks,
        table=model.table,
        cost=np.append(model.cost, np.zeros(len(binary_column))),
        A=np.vstack([np.hstack([model.A, pad]), *rows.rows]),
        base=Limits(
            np.append(base.row_lower, np.full(extra, -np.inf)),
            row_upper,
            np.append(base.col_lower, np.zeros(len(binary_column))),
            np.append(base.col_upper, np.ones(len(binary_column))),
        ),
        wishes=(*model.wishes, *wishes),
        integer=np.arange(width) >= n,
        binary_column=binary_column,
    )


class _Rows:
    """New rows of a model, numbered after the old ones."""

    def __init__(self, *, first: int, width: int) -> None:
        self.rows: list[Floats] = []
        self._first, self._width = first, width

    def add(self, coefficients: Mapping[int, float]) -> int:
        row = np.zeros(self._width)
        for column, value in coefficients.items():
            row[column] += value
        self.rows.append(row)
        return self._first + len(self.rows) - 1


def _binary_columns(model: Model, problem: BlendProblem) -> dict[int, int]:
    """Column of each stock that needs a binary column -> that column."""
    needed: set[int] = set()
    if problem.smallest_charge_pct > 0:
        needed.update(range(len(model.stocks)))
    if problem.most_stocks is not None:
        needed.update(i for i, stock in enumerate(model.stocks) if not stock.is_water)
    for rule in problem.rules:
        if rule.effect is Effect.BLOCKS:
            needed.update(i for pair in pairs(rule, model.stocks) for i in pair)
        elif rule.effect is Effect.LIMIT:
            needed.update(j for _, j in pairs(rule, model.stocks))
    first = model.A.shape[1]
    return {i: first + position for position, i in enumerate(sorted(needed))}


def _rule_places(
    rule: CompatibilityRule, stocks: Sequence[Stock], binary_column: Mapping[int, int], rows: _Rows
) -> Iterator[Place]:
    met = list(pairs(rule, stocks))
    if rule.effect is Effect.BLOCKS:
        for i, j in sorted({(min(pair), max(pair)) for pair in met}):
            yield Place(
                is_row=True,
                index=rows.add({binary_column[i]: 1.0, binary_column[j]: 1.0}),
                value=1.0,
            )
    elif rule.effect is Effect.LIMIT:
        of_b = [j for j, stock in enumerate(stocks) if rule.trait_b in stock.traits]
        for j in sorted({j for _, j in met}):
            row = dict.fromkeys((i for i, other in met if other == j), 1.0)
            if rule.largest_ratio is not None:
                for b in of_b:
                    row[b] = row.get(b, 0.0) - rule.largest_ratio
                row[binary_column[j]] = 1.0
                value = 1.0
            else:
                share = 1.0 if rule.largest_pct is None else rule.largest_pct / 100.0
                row[binary_column[j]] = 1.0 - share
                value = 1.0
            yield Place(is_row=True, index=rows.add(row), value=value)
