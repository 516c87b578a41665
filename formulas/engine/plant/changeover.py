"""What the last batch leaves in a tank, and the order of batches that needs the fewest flushes.

The heel of one batch joins the next. A pair of stocks, one brought by the heel and one by the new
batch, that a rule forbids to meet calls for a flush; pairs that already live together in either
batch are no news. A limit is judged on the mixture of heel and batch. Directed preferences (say,
slow release not straight after quick) are data: ``CarryOverPreference``.

The order of batches is the shortest path through all of them once, over a matrix of costs that
is not symmetric (``changeover_order``).
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from enum import StrEnum
from functools import cached_property
from itertools import pairwise
from typing import Final

import numpy as np

from formulas.engine.blend.choices import rule_is_broken
from formulas.engine.blend.programs import Floats
from formulas.engine.density.mixing import volume_gal
from formulas.engine.plant.changeover_order import ordering
from formulas.engine.problem import BadProblem, CompatibilityRule, Effect, FieldError, Stock
from formulas.engine.validate import SUM_TOLERANCE_PCT, rule_errors, stock_errors

#: A flush outweighs any number of lesser costs, so that flushes are counted first.
FLUSH_COST: Final = 1000.0
#: A pair that asks for a jar test.
JAR_TEST_COST: Final = 1.0


class CarryOverKind(StrEnum):
    """What a meeting asks for, most serious first."""

    LOOK = "look"
    FLUSH = "flush"
    JAR_TEST = "jar_test"
    PREFERENCE = "preference"


@dataclass(frozen=True, slots=True)
class TankBatch:
    """A batch as its tank sees it: stocks, their shares in percent, and its size."""

    code: str
    name: str
    stocks: tuple[Stock, ...]
    pct: tuple[float, ...]
    volume_gal: float

    @property
    def codes(self) -> frozenset[str]:
        """Codes of the stocks in it."""
        return frozenset(
            stock.code for stock, share in zip(self.stocks, self.pct, strict=True) if share > 0
        )

    @property
    def lb_per_gal(self) -> float:
        """Density of the blend at 60 F."""
        return sum(self.pct) / volume_gal(self.stocks, self.pct)


@dataclass(frozen=True, slots=True)
class UnknownContents:
    """Something is, or may be, in the tank, and no rule can be read for it.

    With a ``name`` a person said what it is, but not of which stocks; without one nobody did.
    """

    name: str = ""


@dataclass(frozen=True, slots=True)
class CarryOverPreference:
    """A batch with ``trait_after`` costs so much straight after one with ``trait_before``.

    Two batches that both have both traits are alike and cost nothing. ``cost`` counts in jar
    tests: it orders batches, it never forces a flush.
    """

    trait_before: str
    trait_after: str
    cost: float
    reason: str
    source: str


@dataclass(frozen=True, slots=True)
class Meeting:
    """Two things that meet in the tank, in words, and what that asks for."""

    kind: CarryOverKind
    before: str
    after: str
    words: str
    source: str


@dataclass(frozen=True, slots=True)
class CarryOver:
    """From one batch to the next. ``heel_pct`` is the heel's share of the mixture by weight."""

    before: str
    after: str
    heel_gal: float
    heel_pct: float
    meetings: tuple[Meeting, ...]
    cost: float
    words: str

    @property
    def needs_flush(self) -> bool:
        """Whether the tank must be flushed in between."""
        return any(meeting.kind is CarryOverKind.FLUSH for meeting in self.meetings)

    @property
    def needs_look(self) -> bool:
        """Whether somebody must say what is in the tank, or rinse it, before anything goes in."""
        return any(meeting.kind is CarryOverKind.LOOK for meeting in self.meetings)


@dataclass(frozen=True, slots=True)
class ChangeoverPlan:
    """Batches in the suggested order; ``steps`` are the changeovers between them.

    ``steps`` begins with the change from what was in the tank, if that was given.
    ``flushes_as_given`` counts the flushes of the order that was asked about. A look into a tank
    of unknown contents comes on top of them, whatever the order.
    """

    order: tuple[str, ...]
    steps: tuple[CarryOver, ...]
    flushes: int
    flushes_as_given: int
    is_exact: bool


def carry_over(
    before: TankBatch | UnknownContents,
    after: TankBatch,
    rules: Sequence[CompatibilityRule],
    *,
    heel_gal: float,
    preferences: Sequence[CarryOverPreference] = (),
) -> CarryOver:
    """What a heel of ``before`` meets in ``after``; raises ``BadProblem`` for wrong input.

    With no heel (a tank that drains dry) nothing meets. The same blend never needs a flush.
    Of unknown contents nothing can be said but that somebody must look, or test in a jar.
    """
    if isinstance(before, UnknownContents):
        _refuse((after,), rules, heel_gal)
        return _onto_unknown(before, after, heel_gal)
    _refuse((before, after), rules, heel_gal)
    return _carry_over(_Seen(before), _Seen(after), _News(rules), heel_gal, preferences)


def needs_flush(
    before: TankBatch,
    after: TankBatch,
    rules: Sequence[CompatibilityRule],
    *,
    heel_gal: float,
) -> bool:
    """``carry_over(...).needs_flush`` of sound input, without words: for very many pairs."""
    return CarryOverKind.FLUSH in _kinds(_Seen(before), _Seen(after), _News(rules), heel_gal)


def changeover_plan(
    batches: Sequence[TankBatch],
    rules: Sequence[CompatibilityRule],
    *,
    heel_gal: float,
    last: TankBatch | UnknownContents | None = None,
    last_gal: float | None = None,
    preferences: Sequence[CarryOverPreference] = (),
) -> ChangeoverPlan:
    """The order with the fewest flushes, then the fewest jar tests and lesser costs.

    ``last`` is what is in the tank, ``last_gal`` how much of it (None: the heel). Exact up to
    ``changeover_order.MOST_EXACT`` batches; the order as given is kept where no other is better.
    Raises ``BadProblem``.
    """
    before = (last,) if isinstance(last, TankBatch) else ()
    left_gal = heel_gal if last_gal is None else last_gal
    _refuse((*batches, *before), rules, heel_gal)
    _refuse((), (), left_gal)
    seen, news, n = [_Seen(batch) for batch in batches], _News(rules), len(batches)
    kinds = [[_kinds(a, b, news, heel_gal) for b in seen] for a in seen]
    asked = preferences if heel_gal else ()
    costs = [[_cost(kinds[i][j], asked, seen[i], seen[j]) for j in range(n)] for i in range(n)]
    cost = np.array(costs).reshape(n, n)
    first = None if last is None else _firsts(last, seen, news, left_gal, preferences)
    start = np.zeros(n) if first is None else np.array([change.cost for change in first])
    found = ordering(cost, start)
    begin = () if first is None or not found.order else (first[found.order[0]],)
    # Words are for the changes that are suggested, not for all that were weighed up.
    chosen = (
        *begin,
        *(
            _carry_over(seen[a], seen[b], news, heel_gal, preferences)
            for a, b in pairwise(found.order)
        ),
    )
    as_given = [CarryOverKind.FLUSH in kinds[a][b] for a, b in pairwise(range(n))]
    if first:
        as_given.append(first[0].needs_flush)
    return ChangeoverPlan(
        order=tuple(batches[i].code for i in found.order),
        steps=chosen,
        flushes=sum(step.needs_flush for step in chosen),
        flushes_as_given=sum(as_given),
        is_exact=found.is_exact,
    )


def _firsts(
    last: TankBatch | UnknownContents,
    seen: Sequence[_Seen],
    news: _News,
    left_gal: float,
    preferences: Sequence[CarryOverPreference],
) -> list[CarryOver]:
    """From what is in the tank to each batch."""
    if isinstance(last, UnknownContents):
        return [_onto_unknown(last, each.batch, left_gal) for each in seen]
    before = _Seen(last)
    return [_carry_over(before, each, news, left_gal, preferences) for each in seen]


def _onto_unknown(before: UnknownContents, after: TankBatch, heel_gal: float) -> CarryOver:
    """The same for every batch that could come next, so it never decides their order."""
    if before.name:
        kind = CarryOverKind.JAR_TEST
        words = (
            f"{before.name} is in the tank and its stocks are not known, so no rule can be read:"
            f" jar test with {after.name} first, or flush."
        )
    else:
        kind = CarryOverKind.LOOK
        words = (
            "What is in the tank is not known: look into it and sign, or rinse it, before"
            f" {after.name}."
        )
    meeting = Meeting(kind, "", after.code, words, "")
    cost = JAR_TEST_COST if before.name else FLUSH_COST
    return CarryOver("", after.code, heel_gal, 0.0, (meeting,), cost, words)


class _Seen:
    """A batch with what is asked of it for every pair; ``held`` names its stocks and traits."""

    def __init__(self, batch: TankBatch) -> None:
        self.batch, self.codes = batch, batch.codes
        used = [stock for stock in batch.stocks if stock.code in self.codes]
        self.held = tuple((stock.code, stock.traits) for stock in used)
        self.traits = frozenset(trait for stock in used for trait in stock.traits)

    @cached_property
    def lb_per_gal(self) -> float:
        """Only limits ask for it, and words."""
        return self.batch.lb_per_gal


#: A rule, and the first pair it speaks of: a stock of the heel and one of the batch.
_New = tuple[CompatibilityRule, Stock, Stock]


class _News:
    """Which rules speak of stocks that have not been together before; found once for two sets."""

    def __init__(self, rules: Sequence[CompatibilityRule]) -> None:
        self._rules = rules
        self._known: dict[tuple[object, object], tuple[_New, ...]] = {}

    def of(self, before: _Seen, after: _Seen) -> tuple[_New, ...]:
        asked = (before.held, after.held)
        if asked not in self._known:
            self._known[asked] = tuple(
                (rule, *pair)
                for rule in self._rules
                if _is_about(rule, before.traits, after.traits)
                and (pair := next(_new_pairs(rule, before, after), None)) is not None
            )
        return self._known[asked]


def _carry_over(
    before: _Seen,
    after: _Seen,
    news: _News,
    heel_gal: float,
    preferences: Sequence[CarryOverPreference],
) -> CarryOver:
    heel_pct = _heel_pct(before, after, heel_gal)
    first, second = before.batch, after.batch
    asked = tuple(_asked(before, after, news, heel_gal)) if heel_gal else ()
    wanted = preferences if heel_gal else ()
    met = tuple(
        Meeting(CarryOverKind.PREFERENCE, first.code, second.code, each.reason, each.source)
        for each in wanted
        if _is_met(each, before, after)
    )
    meetings = (*(_meeting(kind, *new) for kind, new in asked), *met)
    return CarryOver(
        before=first.code,
        after=second.code,
        heel_gal=heel_gal,
        heel_pct=heel_pct,
        meetings=meetings,
        cost=_cost(frozenset(kind for kind, _ in asked), wanted, before, after),
        words=_words(first, second, heel_gal, meetings),
    )


def _heel_pct(before: _Seen, after: _Seen, heel_gal: float) -> float:
    heel_lb = heel_gal * before.lb_per_gal
    return 100.0 * heel_lb / (heel_lb + after.batch.volume_gal * after.lb_per_gal)


def _kinds(before: _Seen, after: _Seen, news: _News, heel_gal: float) -> frozenset[CarryOverKind]:
    """What the rules ask for between the two, without words."""
    if not heel_gal:
        return frozenset()
    return frozenset(kind for kind, _ in _asked(before, after, news, heel_gal))


def _cost(
    kinds: frozenset[CarryOverKind],
    preferences: Sequence[CarryOverPreference],
    before: _Seen,
    after: _Seen,
) -> float:
    by_kind = {CarryOverKind.FLUSH: FLUSH_COST, CarryOverKind.JAR_TEST: JAR_TEST_COST}
    preferred = (each.cost for each in preferences if _is_met(each, before, after))
    return sum(by_kind[kind] for kind in kinds) + sum(preferred)


def _asked(
    before: _Seen, after: _Seen, news: _News, heel_gal: float
) -> Iterator[tuple[CarryOverKind, _New]]:
    """What each rule asks for that speaks of something new; in the order of the rules."""
    for new in news.of(before, after):
        rule = new[0]
        if rule.effect is Effect.BLOCKS or (
            rule.effect is Effect.LIMIT
            and rule_is_broken(
                rule, *_mixture(before.batch, after.batch, _heel_pct(before, after, heel_gal))
            )
        ):
            yield CarryOverKind.FLUSH, new
        elif rule.effect is Effect.JAR_TEST:
            yield CarryOverKind.JAR_TEST, new


def _meeting(kind: CarryOverKind, rule: CompatibilityRule, left: Stock, new: Stock) -> Meeting:
    words = f"{left.name} left in the tank meets {new.name}: {rule.sentence}. "
    if kind is CarryOverKind.JAR_TEST:
        words = f"{left.name} left in the tank meets {new.name}: do a jar test. "
    return Meeting(kind, left.code, new.code, words + rule.reason, rule.source)


def _is_about(rule: CompatibilityRule, left: frozenset[str], new: frozenset[str]) -> bool:
    """Whether a rule speaks of traits of both at all."""
    return (rule.trait_a in left and rule.trait_b in new) or (
        rule.trait_b in left and rule.trait_a in new
    )


def _new_pairs(
    rule: CompatibilityRule, before: _Seen, after: _Seen
) -> Iterator[tuple[Stock, Stock]]:
    """(stock of the heel, stock of the batch) that have not been together before."""
    for left in before.batch.stocks:
        if left.code in after.codes or left.code not in before.codes:
            continue
        for new in after.batch.stocks:
            if new.code in before.codes or new.code not in after.codes:
                continue
            if _is_about(rule, left.traits, new.traits):
                yield left, new


def _mixture(
    before: TankBatch, after: TankBatch, heel_pct: float
) -> tuple[tuple[Stock, ...], Floats]:
    found: dict[str, tuple[Stock, float]] = {}
    for batch, part in ((before, heel_pct), (after, 100.0 - heel_pct)):
        for stock, share in zip(batch.stocks, batch.pct, strict=True):
            _, held = found.get(stock.code, (stock, 0.0))
            found[stock.code] = (stock, held + share * part / 100.0)
    return tuple(stock for stock, _ in found.values()), np.array([p for _, p in found.values()])


def _is_met(preference: CarryOverPreference, before: _Seen, after: _Seen) -> bool:
    earlier, later = before.traits, after.traits
    return (
        preference.trait_before in earlier
        and preference.trait_after in later
        and not {preference.trait_before, preference.trait_after} <= earlier & later
    )


def _words(
    before: TankBatch, after: TankBatch, heel_gal: float, meetings: Sequence[Meeting]
) -> str:
    if not heel_gal:
        return f"The tank drains dry: nothing of {before.name} is left for {after.name}."
    heel = f"{heel_gal:g} gal of {before.name} are left in the tank"
    for kind, verdict in (
        (CarryOverKind.FLUSH, f"flush before {after.name}"),
        (CarryOverKind.JAR_TEST, f"jar test with {after.name} first, or flush"),
    ):
        reasons = [meeting.words for meeting in meetings if meeting.kind is kind]
        if reasons:
            return f"{heel}; {verdict}. {' '.join(reasons)}"
    told = " ".join(meeting.words for meeting in meetings)
    return f"{heel}; no rule asks for a flush before {after.name}. {told}".strip()


def _refuse(
    batches: Sequence[TankBatch], rules: Sequence[CompatibilityRule], heel_gal: float
) -> None:
    errors: list[FieldError] = list(rule_errors(rules))
    if not (math.isfinite(heel_gal) and heel_gal >= 0):
        errors.append(FieldError("heel_gal", "The heel must be a number, 0 or more."))
    for index, batch in enumerate(batches):
        path = f"batches.{index}"
        errors += (
            FieldError(f"{path}.{error.field}", error.message)
            for error in stock_errors(batch.stocks)
        )
        if not (math.isfinite(batch.volume_gal) and batch.volume_gal > 0):
            errors.append(FieldError(f"{path}.volume_gal", "Must be a number above 0."))
        sound = len(batch.pct) == len(batch.stocks) and all(
            math.isfinite(share) and share >= 0 for share in batch.pct
        )
        if not sound or abs(sum(batch.pct) - 100.0) > SUM_TOLERANCE_PCT:
            message = "One share for each stock, 0 or more, together 100 percent."
            errors.append(FieldError(f"{path}.pct", message))
    if errors:
        raise BadProblem(tuple(errors))
