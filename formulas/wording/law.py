"""What a rule of law says of an application, in the words of the reader's language.

In the language of the engine its own sentence stands. Elsewhere a finding is worded by what it is:
its rule, topic, verdict, the figure and its limit. The sentence in English stays with its source,
as the state's text is English.
"""

from __future__ import annotations

from collections.abc import Mapping
from typing import Final

from django.utils.functional import Promise
from django.utils.translation import get_language, gettext_lazy
from django.utils.translation import gettext as _

from blendshop.figures.readers import reader
from formulas.engine.law import ANNUAL, LawFinding, Verdict
from formulas.engine.law.choice import Remark, RemarkKind
from formulas.engine.law.finding import CAUTION
from formulas.engine.law.rules import Topic
from formulas.wording.law_remedies import remedy_in_words
from formulas.wording.law_rules import open_points, rate_words, statement

#: The language the engine's sentences are in.
_ENGINE_S: Final = "en"
_TOPICS: Final[Mapping[Topic, Promise]] = {
    Topic.TOTAL_N: gettext_lazy("total nitrogen per application"),
    Topic.READILY_AVAILABLE_N: gettext_lazy("readily available nitrogen per application"),
    Topic.ANNUAL_N: gettext_lazy("nitrogen per year"),
    Topic.SLOW_SHARE: gettext_lazy("slow-release share"),
    Topic.PHOSPHORUS: gettext_lazy("phosphorus"),
    Topic.P2O5_RATE: gettext_lazy("phosphate per application"),
    Topic.ANNUAL_P2O5: gettext_lazy("phosphate per year"),
    Topic.BLACKOUT: gettext_lazy("dates"),
    Topic.GROUND: gettext_lazy("ground and weather"),
    Topic.SETBACK: gettext_lazy("distance from water"),
    Topic.ESTABLISHMENT: gettext_lazy("time after seeding or sodding"),
    Topic.LABEL_SENTENCE: gettext_lazy("required label sentence"),
    Topic.NO_PACK: gettext_lazy("no rule pack"),
}
_VERDICTS: Final[Mapping[Verdict, Promise]] = {
    Verdict.PASSES: gettext_lazy("passes"),
    Verdict.FAILS: gettext_lazy("fails"),
    Verdict.LIKELY_FAILS: gettext_lazy("likely fails (figures unverified)"),
    Verdict.NOT_ASSESSED: gettext_lazy("not assessed"),
}
#: Of a finding without figures; the topic stands before it.
_WITHOUT_FIGURES: Final[Mapping[Verdict, Promise]] = {
    Verdict.PASSES: gettext_lazy("The rule is kept."),
    Verdict.FAILS: gettext_lazy("The rule is broken."),
    Verdict.LIKELY_FAILS: gettext_lazy("The rule is likely broken."),
    Verdict.NOT_ASSESSED: gettext_lazy("Something is missing to judge this rule."),
}
#: Topics whose figures are pounds on 1,000 sq ft; the others with figures are percent.
_RATES: Final = frozenset(
    {
        Topic.TOTAL_N,
        Topic.READILY_AVAILABLE_N,
        Topic.ANNUAL_N,
        Topic.P2O5_RATE,
        Topic.ANNUAL_P2O5,
    }
)
_PERCENT: Final = frozenset({Topic.SLOW_SHARE, Topic.PHOSPHORUS})


def topic_words(topic: Topic) -> str:
    return str(_TOPICS[topic])


def verdict_words(verdict: Verdict) -> str:
    return str(_VERDICTS[verdict])


def is_worded_anew() -> bool:
    """Whether the reader's language is another than the engine's."""
    return (get_language() or _ENGINE_S).partition("-")[0] != _ENGINE_S


def finding_words(finding: LawFinding) -> str:
    """The finding in sentences; its figures in the reader's units."""
    if not is_worded_anew():
        return finding.sentence
    said = _figures(finding) or statement(finding) or str(_WITHOUT_FIGURES[finding.verdict])
    return " ".join((*_year(finding), said, *open_points(finding)))


def fix_words(finding: LawFinding) -> str:
    """What would fix it, as the engine says it or in the reader's language."""
    if not is_worded_anew():
        return finding.fix
    return " ".join(map(remedy_in_words, finding.remedies))


def caution_words() -> str:
    """What must stand beside every result."""
    if not is_worded_anew():
        return CAUTION
    return _(
        "Screening aid, not legal advice: the state's own text and local code decide."
        " Rules change; check the current text before the truck leaves."
    )


def remark_words(remark: Remark) -> str:
    """What must be known of the choice of rule packs."""
    if not is_worded_anew():
        return remark.words
    match remark.kind:
        case RemarkKind.NO_STATE_PACK:
            words = _("No rule pack stands for {of}: nothing was checked there.")
            return words.format(of=remark.of or _("an unnamed state"))
        case RemarkKind.NAME_THE_PLACE:
            words = _("Name the county and place: local rules stand for {of}.")
        case RemarkKind.NO_LOCAL_PACK:
            words = _("No local rule pack stands here; local code may still set stricter rules.")
        case RemarkKind.NOT_READ_IN_LAW:
            words = _("{of}: no figure of this pack was read in the law's own text.")
    return words.format(of=remark.of)


def _figures(finding: LawFinding) -> str:
    figure, limit = finding.figure, finding.limit
    if figure is None or limit is None or finding.topic not in _RATES | _PERCENT:
        return ""
    words = (
        _("{figure}; at most {limit} is allowed.")
        if finding.largest
        else _("{figure}; at least {limit} is asked.")
    )
    return words.format(figure=_written(finding, figure), limit=_written(finding, limit))


def _written(finding: LawFinding, figure: float) -> str:
    return rate_words(figure) if finding.topic in _RATES else reader().percent(figure, 1)


def _year(finding: LawFinding) -> tuple[str, ...]:
    """The year whose sum is meant."""
    annual = finding.topic in ANNUAL and finding.on is not None
    return (f"{finding.on.year}:",) if annual and finding.on else ()
