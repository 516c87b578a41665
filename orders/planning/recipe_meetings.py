"""Recipes by number, and which of them must not meet in a tank: flushes of very many pairs."""

from __future__ import annotations

import itertools
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from typing import Final

from formulas.engine.plant import changeover as engine
from formulas.engine.problem import CompatibilityRule, Stock
from formulas.engine_bridge import saved_rules
from formulas.models import BaseStock, RevisionLine
from orders.models import Tank
from orders.tanks.heel import usual_heel_gal

#: Contents nobody can say anything of: the tank is flushed before anything goes in.
UNKNOWN: Final = 0


class RecipeMeetings:
    """Gives a number to each recipe or contents and remembers what two of them ask for.

    The rules and stocks of this minute. A recipe counts with the smallest load a tank of the
    plant makes, in which a heel weighs most. What is the same to meet has the same number, in all
    of a process, so that what two of them ask for is worked out once while the rules stay.
    """

    def __init__(self, tanks: Sequence[Tank]) -> None:
        self._heel_gal = {tank.pk: usual_heel_gal(tank) for tank in tanks}
        self._least_gal = min((t.smallest_gal or t.capacity_gal for t in tanks), default=1)
        self._rules = saved_rules()
        self._stocks: dict[str, Stock] = {}
        self._met: dict[int, _Met] = {}
        self._known = _KNOWN.under(self._rules)

    def hold(self, batch: engine.TankBatch) -> int:
        """The number of contents that are known by their stocks."""
        met = _KNOWN.met(batch)
        self._met[met.number] = met
        return met.number

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
        asked = (before, after, self._heel_gal[tank])
        found = self._known.get(asked)
        if found is None:
            found = self._known[asked] = self._flushes(*asked)
        return found

    def _flushes(self, before: int, after: int, heel_gal: float) -> bool:
        """What the engine says; it is asked only of pairs that a rule speaks of."""
        first, second = self._met[before], self._met[after]
        left, new = first.traits, second.traits
        rules = [
            rule
            for rule in self._rules
            if (rule.trait_a in left and rule.trait_b in new)
            or (rule.trait_b in left and rule.trait_a in new)
        ]
        return bool(rules) and engine.needs_flush(
            first.batch, second.batch, rules, heel_gal=heel_gal
        )


@dataclass(frozen=True, slots=True)
class _Met:
    """Contents with their number and the traits in them."""

    number: int
    batch: engine.TankBatch
    traits: frozenset[str]


#: By numbers before and after and the heel's gallons: whether the tank is flushed.
_Flushes = dict[tuple[int, int, float], bool]


class _Known:
    """What a process has found of contents that meet: pages ask it of the same loads again.

    Numbers are never given twice, so that what is forgotten (all of it at once, when it is much)
    is only worked out again.
    """

    _MOST_CONTENTS: Final = 5_000
    _MOST_RULES: Final = 4

    def __init__(self) -> None:
        self._numbers = itertools.count(UNKNOWN + 1)
        self._met: dict[tuple[object, ...], _Met] = {}
        self._flushes: dict[tuple[CompatibilityRule, ...], _Flushes] = {}

    def met(self, batch: engine.TankBatch) -> _Met:
        """The contents as they were met before: the names of a load decide nothing."""
        stocks = tuple(
            (s.code, s.density_lb_per_gal, s.traits, tuple(s.solutes.items())) for s in batch.stocks
        )
        key = (stocks, batch.pct, batch.volume_gal)
        found = self._met.get(key)
        if found is None:
            if len(self._met) >= self._MOST_CONTENTS:
                self._met.clear()
                self._flushes.clear()
            traits = frozenset().union(*(stock.traits for stock in batch.stocks))
            found = self._met.setdefault(key, _Met(next(self._numbers), batch, traits))
        return found

    def under(self, rules: tuple[CompatibilityRule, ...]) -> _Flushes:
        """What was found under these rules."""
        if rules not in self._flushes and len(self._flushes) >= self._MOST_RULES:
            self._flushes.clear()
        return self._flushes.setdefault(rules, {})


_KNOWN: Final = _Known()


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
