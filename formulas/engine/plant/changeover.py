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
from itertools import pairwise
from typing import Final

import numpy as np

from formulas.engine.blend.choices import rule_is_broken
from formulas.engine.blend.highs import Floats
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
    return _carry_over(before, after, rules, heel_gal, preferences)


def needs_flush(
    before: TankBatch,
    after: TankBatch,
    rules: Sequence[CompatibilityRule],
    *,
    heel_gal: float,
) -> bool:
    """``carry_over(...).needs_flush`` of sound input, without words: for very many pairs."""
    return _carry_over(before, after, rules, heel_gal, ()).needs_flush


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
    _refuse((*batches, *before), rules, heel_gal)
    changes = [[_carry_over(a, b, rules, heel_gal, preferences) for b in batches] for a in batches]
    left_gal = heel_gal if last_gal is None else last_gal
    first = (
        None
        if last is None
        else [
            carry_over(last, b, rules, heel_gal=left_gal, preferences=preferences) for b in batches
        ]
    )
    n = len(batches)
    cost = np.array([[change.cost for change in row] for row in changes]).reshape(n, n)
    start = np.zeros(n) if first is None else np.array([change.cost for change in first])
    found = ordering(cost, start)

    def steps(order: Sequence[int]) -> tuple[CarryOver, ...]:
        begin = () if first is None or not order else (first[order[0]],)
        return (*begin, *(changes[a][b] for a, b in pairwise(order)))

    chosen = steps(found.order)
    return ChangeoverPlan(
        order=tuple(batches[i].code for i in found.order),
        steps=chosen,
        flushes=sum(step.needs_flush for step in chosen),
        flushes_as_given=sum(step.needs_flush for step in steps(range(n))),
        is_exact=found.is_exact,
    )


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


def _carry_over(
    before: TankBatch,
    after: TankBatch,
    rules: Sequence[CompatibilityRule],
    heel_gal: float,
    preferences: Sequence[CarryOverPreference],
) -> CarryOver:
    heel_lb = heel_gal * before.lb_per_gal
    batch_lb = after.volume_gal * after.lb_per_gal
    heel_pct = 100.0 * heel_lb / (heel_lb + batch_lb)
    meetings = tuple(_meetings(before, after, rules, heel_pct, preferences)) if heel_gal else ()
    by_kind = {
        CarryOverKind.FLUSH: FLUSH_COST,
        CarryOverKind.JAR_TEST: JAR_TEST_COST,
        CarryOverKind.PREFERENCE: 0.0,
    }
    kinds = {meeting.kind for meeting in meetings}
    cost = sum(by_kind[kind] for kind in kinds) + (
        sum(each.cost for each in preferences if _is_met(each, before, after)) if heel_gal else 0.0
    )
    return CarryOver(
        before=before.code,
        after=after.code,
        heel_gal=heel_gal,
        heel_pct=heel_pct,
        meetings=meetings,
        cost=cost,
        words=_words(before, after, heel_gal, meetings),
    )


def _meetings(
    before: TankBatch,
    after: TankBatch,
    rules: Sequence[CompatibilityRule],
    heel_pct: float,
    preferences: Sequence[CarryOverPreference],
) -> Iterator[Meeting]:
    stocks, mixed_pct = _mixture(before, after, heel_pct)
    for rule in rules:
        pairs = list(_new_pairs(rule, before, after))
        if not pairs:
            continue
        if rule.effect is Effect.BLOCKS or (
            rule.effect is Effect.LIMIT and rule_is_broken(rule, stocks, mixed_pct)
        ):
            kind = CarryOverKind.FLUSH
        elif rule.effect is Effect.JAR_TEST:
            kind = CarryOverKind.JAR_TEST
        else:
            continue
        left, new = pairs[0]
        words = f"{left.name} left in the tank meets {new.name}: {rule.sentence}. "
        if kind is CarryOverKind.JAR_TEST:
            words = f"{left.name} left in the tank meets {new.name}: do a jar test. "
        yield Meeting(kind, left.code, new.code, words + rule.reason, rule.source)
    for each in preferences:
        if _is_met(each, before, after):
            yield Meeting(
                CarryOverKind.PREFERENCE, before.code, after.code, each.reason, each.source
            )


def _new_pairs(
    rule: CompatibilityRule, before: TankBatch, after: TankBatch
) -> Iterator[tuple[Stock, Stock]]:
    """(stock of the heel, stock of the batch) that have not been together before."""
    for left in before.stocks:
        for new in after.stocks:
            if left.code in after.codes or new.code in before.codes:
                continue
            if left.code not in before.codes or new.code not in after.codes:
                continue
            if (rule.trait_a in left.traits and rule.trait_b in new.traits) or (
                rule.trait_b in left.traits and rule.trait_a in new.traits
            ):
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


def _is_met(preference: CarryOverPreference, before: TankBatch, after: TankBatch) -> bool:
    earlier, later = _traits(before), _traits(after)
    return (
        preference.trait_before in earlier
        and preference.trait_after in later
        and not {preference.trait_before, preference.trait_after} <= earlier & later
    )


def _traits(batch: TankBatch) -> frozenset[str]:
    return frozenset(
        trait for stock in batch.stocks if stock.code in batch.codes for trait in stock.traits
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
