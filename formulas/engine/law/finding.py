"""What comes back: a verdict, a sentence, the text it rests on, and what would fix it."""

from __future__ import annotations

import math
from collections.abc import Iterable
from dataclasses import dataclass
from datetime import date
from enum import StrEnum
from typing import Final

from formulas.engine.law.rules import Basis, Status, Topic

CAUTION: Final = (
    "Screening aid, not legal advice: the state's own text and local code decide. "
    "Rules change; check the current text before the truck leaves."
)
#: Pounds, percent or feet by which a limit may be missed through rounding in floating point.
TOLERANCE: Final = 1e-6


class Verdict(StrEnum):
    """What a rule says of an application; ``LIKELY_FAILS`` only of several rules together."""

    PASSES = "passes"
    FAILS = "fails"
    LIKELY_FAILS = "likely fails"
    NOT_ASSESSED = "not assessed"


@dataclass(frozen=True, slots=True)
class LawFinding:
    """One rule's answer. ``asks`` names the ``Circumstances`` that would settle it.

    ``limit`` and ``figure`` are in ``unit``; ``largest`` tells whether the limit is an upper
    one. ``rule`` is the basis with citation, status and the date checked; None only when there
    is no rule pack at all.
    """

    verdict: Verdict
    topic: Topic
    jurisdiction: str
    sentence: str
    rule: Basis | None = None
    fix: str = ""
    asks: tuple[str, ...] = ()
    limit: float | None = None
    figure: float | None = None
    unit: str = ""
    largest: bool = True
    on: date | None = None

    @property
    def caution(self) -> str:
        """What must stand beside every result."""
        return CAUTION

    @property
    def status(self) -> Status:
        """Unverified when the rule is, or when there is none."""
        return self.rule.status if self.rule else Status.UNVERIFIED


def overall(findings: Iterable[LawFinding]) -> Verdict:
    """Fails if an active rule fails; passes only if every rule does, on verified figures.

    A broken limit whose figure is unverified makes it "likely fails". A topic on which a
    jurisdiction has unverified figures alone is no basis for a pass, nor is the absence of
    findings: both leave the whole "not assessed".
    """
    seen = tuple(findings)
    if any(f.verdict is Verdict.FAILS and f.status is Status.ACTIVE for f in seen):
        return Verdict.FAILS
    if any(f.verdict is Verdict.FAILS for f in seen):
        return Verdict.LIKELY_FAILS
    topics = {(f.jurisdiction, f.topic) for f in seen}
    verified = {(f.jurisdiction, f.topic) for f in seen if f.status is Status.ACTIVE}
    if not seen or topics != verified or any(f.verdict is not Verdict.PASSES for f in seen):
        return Verdict.NOT_ASSESSED
    return Verdict.PASSES


def judged(answers: Iterable[bool]) -> Verdict:
    """One verdict from the answers of every possible reading of a text."""
    seen = set(answers)
    if len(seen) == 1:
        return Verdict.PASSES if True in seen else Verdict.FAILS
    return Verdict.NOT_ASSESSED


def at_most(figure: float, limit: float) -> bool:
    """Whether an upper limit is kept."""
    return figure <= limit + TOLERANCE


def at_least(figure: float, limit: float) -> bool:
    """Whether a lower limit is kept."""
    return figure >= limit - TOLERANCE


def pounds(lb: float) -> str:
    """Pounds to two decimals, to three where the third matters."""
    text = f"{lb:.3f}"
    return f"{text.removesuffix('0')} lb"


def percent(pct: float) -> str:
    """Percent without superfluous zeros."""
    return f"{round(pct, 2):g} %"


def pounds_down(lb: float) -> str:
    """Pounds rounded down, so that following the sentence keeps the limit."""
    return pounds(max(0.0, math.floor(lb * 1000 + TOLERANCE) / 1000))


def percent_up(pct: float) -> str:
    """Percent rounded up to a tenth, so that following the sentence keeps the limit."""
    return percent(math.ceil(pct * 10 - TOLERANCE) / 10)
