"""What comes back: a verdict, a sentence, the text it rests on, and what would fix it."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import date
from enum import StrEnum
from typing import Final

from formulas.engine.law.figures import TOLERANCE
from formulas.engine.law.remedies import Remedy
from formulas.engine.law.remedy_words import remedy_words
from formulas.engine.law.rules import Basis, Rule, Status, Topic

CAUTION: Final = (
    "Screening aid, not legal advice: the state's own text and local code decide. "
    "Rules change; check the current text before the truck leaves."
)


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
    is no rule pack at all. ``under`` is the rule itself and ``remedies`` what would fix it, typed,
    so that both can be said in any language; ``fix`` says the remedies in this one's.
    """

    verdict: Verdict
    topic: Topic
    jurisdiction: str
    sentence: str
    rule: Basis | None = None
    remedies: tuple[Remedy, ...] = ()
    asks: tuple[str, ...] = ()
    limit: float | None = None
    figure: float | None = None
    unit: str = ""
    largest: bool = True
    on: date | None = None
    under: Rule | None = None

    @property
    def fix(self) -> str:
        """What would fix it, in sentences; empty where nothing has to be."""
        return " ".join(map(remedy_words, self.remedies))

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
