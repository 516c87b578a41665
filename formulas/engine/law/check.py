"""Check one application against the packs that hold there."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import dataclass, replace

from formulas.engine.law import nitrogen, phosphorus, place_and_time
from formulas.engine.law.application import Application, Circumstances
from formulas.engine.law.finding import LawFinding, Verdict
from formulas.engine.law.remedies import PrintTheSentence, ReadTheRules, Remedy
from formulas.engine.law.rules import (
    Applicator,
    Blackout,
    Duty,
    EstablishmentWait,
    GroundRule,
    LabelSentence,
    NitrogenPerApplication,
    NitrogenPerYear,
    Phosphorus,
    Rule,
    RulePack,
    Setback,
    SlowShare,
    Topic,
)


@dataclass(frozen=True, slots=True)
class Governing:
    """The stricter of several limits on one topic, and why."""

    topic: Topic
    stricter: LawFinding
    reason: str


def check_application(
    packs: Iterable[RulePack], application: Application
) -> tuple[LawFinding, ...]:
    """Every rule's answer, in the order of the packs; state and local rules both hold.

    Without a pack the one finding says that nothing was assessed. A rule bound to a kind of
    applicator is left out when the circumstances name another kind; when they name none, a
    failure becomes "not assessed" with the question.
    """
    chosen = tuple(packs)
    if not chosen:
        return (no_pack(),)
    found = tuple(
        finding for pack in chosen for rule in pack.rules for finding in check(rule, application)
    )
    return tuple(replace(finding, on=application.on) for finding in found)


def no_pack() -> LawFinding:
    """What is said of an address for which nothing is on file."""
    return LawFinding(
        Verdict.NOT_ASSESSED,
        Topic.NO_PACK,
        "",
        "No rule pack stands for this address; nothing was checked.",
        remedies=(ReadTheRules(),),
    )


def binds(rule: Rule, circumstances: Circumstances) -> bool:
    """Whether the rule holds, or may hold, for this applicator."""
    whom, professional = rule.basis.applicator, circumstances.professional
    if whom is Applicator.ANYONE or professional is None:
        return True
    return (whom is Applicator.PROFESSIONAL) == professional


def check(rule: Rule, application: Application) -> Iterator[LawFinding]:
    """The findings of one rule; none when it does not touch this application."""
    if not binds(rule, application.circumstances):
        return
    for finding in _answers(rule, application):
        yield asking_who_sprays(rule, application.circumstances, finding)


def asking_who_sprays(rule: Rule, circumstances: Circumstances, finding: LawFinding) -> LawFinding:
    """A failure becomes a question when the rule binds one kind of applicator and none is named.

    Every finding of a rule goes through here, one application's and a year's, and keeps the rule.
    """
    finding = replace(finding, under=rule)
    whom = rule.basis.applicator
    known = whom is Applicator.ANYONE or circumstances.professional is not None
    if known or finding.verdict is not Verdict.FAILS:
        return finding
    who = "professional" if whom is Applicator.PROFESSIONAL else "other"
    return replace(
        finding,
        verdict=Verdict.NOT_ASSESSED,
        sentence=f"{finding.sentence} This binds {who} applicators: who sprays?",
        asks=(*finding.asks, "professional"),
    )


def _answers(rule: Rule, app: Application) -> Iterator[LawFinding]:
    match rule:
        case NitrogenPerApplication():
            return nitrogen.per_application(rule, app)
        case NitrogenPerYear():
            answers = app.circumstances
            earlier = answers.n_earlier_this_year_lb
            return iter((nitrogen.per_year(rule, answers.grass, app.total_n_lb, earlier),))
        case SlowShare():
            return nitrogen.slow_share(rule, app)
        case Phosphorus():
            return phosphorus.phosphorus(rule, app)
        case Blackout():
            return place_and_time.blackout(rule, app)
        case GroundRule():
            return place_and_time.ground(rule, app)
        case Setback():
            return place_and_time.setback(rule, app)
        case EstablishmentWait():
            return place_and_time.establishment(rule, app)
        case LabelSentence():
            return _label_sentence(rule, app)


def _label_sentence(rule: LabelSentence, app: Application) -> Iterator[LawFinding]:
    words = f'The label must carry: "{rule.sentence}"'
    verdict = Verdict.PASSES
    fixes: tuple[Remedy, ...] = ()
    asks: tuple[str, ...] = ()
    if app.label_text is None:
        verdict, asks = Verdict.NOT_ASSESSED, ("label_text",)
    elif _plain(rule.sentence) not in _plain(app.label_text):
        verdict, fixes = Verdict.FAILS, (PrintTheSentence(),)
    yield LawFinding(
        verdict, Topic.LABEL_SENTENCE, rule.basis.jurisdiction, words, rule.basis, fixes, asks
    )


def _plain(text: str) -> str:
    """Lower case, single spaces: lines may break anywhere on a label."""
    return " ".join(text.casefold().split())


def duties(packs: Iterable[RulePack]) -> tuple[Duty, ...]:
    """What the law asks beyond the application: labels, registration, reports, records."""
    return tuple(duty for pack in packs for duty in pack.duties)


def governing(findings: Iterable[LawFinding]) -> tuple[Governing, ...]:
    """For each topic on which several jurisdictions set a limit: the stricter, with the reason.

    Both hold at once; the stricter decides because keeping it keeps the other.
    """
    by_topic: dict[tuple[Topic, str], list[LawFinding]] = {}
    for finding in findings:
        if finding.limit is not None:
            by_topic.setdefault((finding.topic, finding.unit), []).append(finding)
    found = []
    for (topic, unit), group in by_topic.items():
        if len({finding.jurisdiction for finding in group}) < 2:
            continue
        ordered = sorted(group, key=lambda f: (f.limit or 0.0) if f.largest else -(f.limit or 0.0))
        first, second = ordered[0], next(
            f for f in ordered if f.jurisdiction != ordered[0].jurisdiction
        )  # fmt: skip
        found.append(Governing(topic, first, _reason(first, second, unit)))
    return tuple(found)


def _reason(first: LawFinding, second: LawFinding, unit: str) -> str:
    edge = "at most" if first.largest else "at least"
    mine = f"{first.jurisdiction} ({edge} {first.limit:g} {unit})"
    other = f"{second.jurisdiction} ({edge} {second.limit:g})"
    if first.limit == second.limit:
        return f"{mine} and {other} ask the same."
    return f"{mine} is stricter than {other}; keeping it keeps both."
