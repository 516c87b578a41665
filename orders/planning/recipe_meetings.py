"""Recipes by number, and which of them must not meet in a tank: flushes of very many pairs."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from typing import Final

from formulas.engine.plant import changeover as engine
from formulas.engine.problem import Stock
from formulas.engine_bridge import saved_rules
from formulas.models import BaseStock, RevisionLine
from orders.models import Tank
from orders.tanks.heel import usual_heel_gal

#: Contents nobody can say anything of: the tank is flushed before anything goes in.
UNKNOWN: Final = 0


class RecipeMeetings:
    """Gives a number to each recipe or contents and remembers what two of them ask for.

    The rules and stocks of this minute. A recipe counts with the smallest load a tank of the
    plant makes, in which a heel weighs most.
    """

    def __init__(self, tanks: Sequence[Tank]) -> None:
        self._batches: dict[int, engine.TankBatch] = {}
        self._traits: dict[int, frozenset[str]] = {}
        self._heel_gal = {tank.pk: usual_heel_gal(tank) for tank in tanks}
        self._least_gal = min((t.smallest_gal or t.capacity_gal for t in tanks), default=1)
        self._rules = saved_rules()
        self._stocks: dict[str, Stock] = {}
        self._known: dict[tuple[int, int, int], bool] = {}

    def hold(self, batch: engine.TankBatch) -> int:
        """The number of contents that are known by their stocks."""
        number = len(self._batches) + 1
        self._batches[number] = batch
        self._traits[number] = frozenset().union(*(stock.traits for stock in batch.stocks))
        return number

    def add(self, shares_pct: Mapping[str, float]) -> int:
        """The number of a recipe: percent by weight by stock code."""
        self.fetch(shares_pct)
        used = {code: pct for code, pct in shares_pct.items() if code in self._stocks}
        if not used:
            return UNKNOWN
        stocks = tuple(self._stocks[code] for code in used)
        batch = engine.TankBatch("", "", stocks, tuple(used.values()), float(self._least_gal))
        return self.hold(batch)

    def fetch(self, codes: Iterable[str]) -> None:
        """Read stocks that are not at hand yet, in two queries."""
        if missing := set(codes) - self._stocks.keys():
            rows = BaseStock.objects.filter(code__in=missing).prefetch_related("traits")
            self._stocks |= {row.code: _as_met(row) for row in rows}

    def needs_flush(self, before: int, after: int, tank: int) -> bool:
        """Whether a tank (by its id) is flushed when one follows the other."""
        if UNKNOWN in (before, after):
            return True
        asked = (before, after, tank)
        if asked not in self._known:
            self._known[asked] = self._flushes(before, after, self._heel_gal[tank])
        return self._known[asked]

    def _flushes(self, before: int, after: int, heel_gal: float) -> bool:
        """What the engine says; it is asked only of pairs that a rule speaks of."""
        left, new = self._traits[before], self._traits[after]
        rules = [
            rule
            for rule in self._rules
            if (rule.trait_a in left and rule.trait_b in new)
            or (rule.trait_b in left and rule.trait_a in new)
        ]
        first, second = self._batches[before], self._batches[after]
        return bool(rules) and engine.needs_flush(first, second, rules, heel_gal=heel_gal)


def recipe_shares_pct(revisions: Iterable[int]) -> Mapping[int, Mapping[str, float]]:
    """Percent by weight by stock code of each revision, by its id, in one query."""
    found: dict[int, dict[str, float]] = {pk: {} for pk in revisions}
    rows = RevisionLine.objects.filter(revision__in=found).order_by()
    for revision, code, pct in rows.values_list("revision", "stock__code", "pct"):
        found[revision][code] = pct
    return found


def _as_met(row: BaseStock) -> Stock:
    """What counts where two loads meet; contents and cost do not."""
    return Stock(
        code=row.code,
        name=row.name,
        density_lb_per_gal=row.density_at_60_f(),
        cost_per_lb=0.0,
        analysis={},
        traits=frozenset(trait.code for trait in row.traits.all()),
        solutes=row.solutes_pct(),
    )
