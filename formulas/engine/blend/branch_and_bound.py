"""Rules and smallest charges by branching on linear programs that restart warm.

A rule that a recipe breaks leaves two ways out, and so does a charge that is too small::

    blocks a, b       none of the trait-a stocks   | none of the trait-b stocks
    limit beside j    stock j left out             | the limit as a row
    smallest charge   stock i left out             | stock i at least that much
    too many stocks   stock i left out             | stock i among those that are kept

Every recipe that keeps all choices lies in one of the two, so the best of both is the best.
Only choices that the answer so far breaks are branched on: a handful of 0.1 ms programs does
what a general search over binary columns takes several milliseconds for. Where the handful
grows into hundreds, ``SearchTooLarge`` asks for that general search.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import Final

import numpy as np

from formulas.engine.blend.choices import USED_PCT, pairs
from formulas.engine.blend.highs import Session
from formulas.engine.blend.linear_program import Model
from formulas.engine.blend.programs import Floats, Limits, Optimum
from formulas.engine.blend.proved import Proved
from formulas.engine.blend.supports import SupportSearch
from formulas.engine.problem import BlendProblem, CompatibilityRule, Effect

_MOST_NODES: Final = 150
_SLACK_PCT: Final = 1e-7
#: Objectives closer than this are equal; the recipe then decides.
_EQUAL: Final = 1e-9
#: A known recipe may be off its limits by the solver's tolerance, and so may its objective.
_KNOWN_SLACK: Final = 1e-6


class SearchTooLarge(Exception):
    """This question needs the general search."""


@dataclass(frozen=True, slots=True)
class _Node:
    """What has been decided: stocks left out, stocks charged, limit rows, stocks counted."""

    off: frozenset[int] = frozenset()
    charged: frozenset[int] = frozenset()
    rows: frozenset[int] = frozenset()
    kept: frozenset[int] = frozenset()


def _only_counts(problem: BlendProblem) -> bool:
    """Whether the number of stocks is the only choice."""
    is_ruled = any(rule.effect in (Effect.BLOCKS, Effect.LIMIT) for rule in problem.rules)
    return not is_ruled and problem.smallest_charge_pct == 0


class ChoiceSearch:
    """One solver for one linear model and the choices of its problem."""

    def __init__(
        self,
        problem: BlendProblem,
        model: Model,
        proved: Proved | None = None,
        session: Session | None = None,
    ) -> None:
        """``session`` holds the model already, whatever its limits, and is not needed otherwise."""
        self._pairs = {rule: tuple(pairs(rule, model.stocks)) for rule in problem.rules}
        self._limit_row: dict[tuple[CompatibilityRule, int], int] = {}
        rows: list[Floats] = []
        for rule in problem.rules:
            if rule.effect is Effect.LIMIT:
                for j in sorted({j for _, j in self._pairs[rule]}):
                    self._limit_row[rule, j] = model.A.shape[0] + len(rows)
                    rows.append(self._limited(rule, j, model))
        for row in rows:
            model = model.with_row(row)
        self.model = model
        if session is None or rows:
            session = Session(model.program(model.limits()))
        self.session = session
        self._supports = SupportSearch(model, self.session, Proved() if proved is None else proved)

    def best(
        self,
        problem: BlendProblem,
        limits: Limits,
        cost: Floats,
        *,
        known: float = np.inf,
        any_will_do: bool = False,
    ) -> Optimum | None:
        """The recipe of least ``cost`` (n,) within ``limits`` that keeps ``problem``'s choices.

        ``limits`` is for ``self.model``; ``problem`` may ask for fewer choices than the one the
        search was made for. Equal recipes: fewest stocks, then larger shares of earlier codes.
        ``known`` is the objective of a recipe that is known to do; with ``any_will_do`` the first
        one found is enough.
        Raises ``SearchTooLarge``.
        """
        self.session.set_cost(cost)
        most = problem.most_stocks
        if most is not None and self.looks_at_all(problem):
            found = self._supports.best(
                limits, cost, most, below=known + _KNOWN_SLACK, any_will_do=any_will_do
            )
            if len(found) < 2:
                return found[0] if found else None
            return min(found, key=lambda each: self._key(each.x))
        best: Optimum | None = None
        best_key: tuple[int, float] = (0, 0.0)
        waiting = [_Node()]
        for _ in range(_MOST_NODES):
            if not waiting:
                return best
            node = waiting.pop()
            optimum = self._at(node, limits, problem.smallest_charge_pct)
            if optimum is None or optimum.objective > known + _KNOWN_SLACK:
                continue
            if best is not None and optimum.objective > best.objective + _EQUAL:
                continue
            children = self._branches(problem, node, 100.0 * optimum.x)
            if children is not None:
                waiting += children
                continue
            if any_will_do:
                return optimum
            key = self._key(optimum.x)
            if best is None or optimum.objective < best.objective - _EQUAL or key < best_key:
                best, best_key = optimum, key
        raise SearchTooLarge

    def looks_at_all(self, problem: BlendProblem) -> bool:
        """Whether the choices are so few that all are looked at together, without branching."""
        most = problem.most_stocks
        return most is not None and _only_counts(problem) and self._supports.is_small(most)

    def _at(self, node: _Node, limits: Limits, charge_pct: float) -> Optimum | None:
        narrowed = limits.copy()
        for i in node.charged:
            narrowed.col_lower[i] = max(narrowed.col_lower[i], charge_pct / 100.0)
        for i in node.off:
            narrowed.col_upper[i] = 0.0
        for row in node.rows:
            narrowed.row_upper[row] = 0.0
        if (narrowed.col_lower > narrowed.col_upper).any():
            return None
        self.session.set_limits(narrowed)
        return self.session.run()

    def _branches(self, problem: BlendProblem, node: _Node, pct: Floats) -> list[_Node] | None:
        """The two ways out of the first broken choice (the likelier one last), None if kept."""
        for rule in problem.rules:
            if rule.effect is Effect.BLOCKS:
                for i, j in self._pairs[rule]:
                    if pct[i] > USED_PCT and pct[j] > USED_PCT:
                        return self._apart(rule, node, pct, i, j)
            elif rule.effect is Effect.LIMIT:
                branches = self._limited_branches(rule, node, pct)
                if branches is not None:
                    return branches
        small = (pct > USED_PCT) & (pct < problem.smallest_charge_pct - _SLACK_PCT)
        for i in map(int, np.flatnonzero(small)):
            if i not in node.charged:
                return [
                    replace(node, charged=node.charged | {i}),
                    replace(node, off=node.off | {i}),
                ]
        return self._counted_branches(problem.most_stocks, node, pct)

    def _limited_branches(
        self, rule: CompatibilityRule, node: _Node, pct: Floats
    ) -> list[_Node] | None:
        for j in sorted({j for _, j in self._pairs[rule]}):
            row = self._limit_row[rule, j]
            over = float(self.model.A[row] @ pct)
            if pct[j] > USED_PCT and row not in node.rows and over > _SLACK_PCT:
                return [
                    replace(node, off=node.off | {j}),
                    replace(node, rows=node.rows | {row}),
                ]
        return None

    def _counted_branches(self, most: int | None, node: _Node, pct: Floats) -> list[_Node] | None:
        """Too many stocks: the smallest undecided one is left out, or is among those kept."""
        if most is None or self._key(pct / 100.0)[0] <= most:
            return None
        undecided = [
            i
            for i in map(int, np.flatnonzero(pct > USED_PCT))
            if i not in node.kept and not self.model.stocks[i].is_water
        ]
        smallest = min(undecided, key=lambda i: float(pct[i]))
        out = replace(node, off=node.off | {smallest})
        kept = node.kept | {smallest}
        if len(kept) > most:
            return [out]
        if len(kept) < most:
            return [replace(node, kept=kept), out]
        others = (
            i for i, stock in enumerate(self.model.stocks) if i not in kept and not stock.is_water
        )
        return [replace(node, kept=kept, off=node.off.union(others)), out]

    def _apart(
        self, rule: CompatibilityRule, node: _Node, pct: Floats, i: int, j: int
    ) -> list[_Node]:
        of_a = frozenset(first for first, _ in self._pairs[rule])
        of_b = frozenset(second for _, second in self._pairs[rule])
        if of_a & of_b:
            # A stock with both traits may stay alone, so only this pair is decided.
            of_a, of_b = frozenset({i}), frozenset({j})
        sides = sorted((of_a, of_b), key=lambda side: -float(pct[sorted(side)].sum()))
        return [replace(node, off=node.off | side) for side in sides]

    def _limited(self, rule: CompatibilityRule, j: int, model: Model) -> Floats:
        """Coefficients of "trait-a stocks within the limit beside stock j", at most 0."""
        row = np.zeros(len(model.stocks))
        row[[i for i, other in self._pairs[rule] if other == j]] = 1.0
        if rule.largest_ratio is not None:
            of_b = [rule.trait_b in stock.traits for stock in model.stocks]
            return row - rule.largest_ratio * np.array(of_b, dtype=float)
        return row - (1.0 if rule.largest_pct is None else rule.largest_pct / 100.0)

    def _key(self, shares: Floats) -> tuple[int, float]:
        used = shares > USED_PCT / 100.0
        count = sum(
            1
            for stock, is_used in zip(self.model.stocks, used, strict=True)
            if is_used and not stock.is_water
        )
        falling = np.arange(len(shares), 0, -1) / len(shares)
        return count, -float(np.round(falling @ shares, 9))
