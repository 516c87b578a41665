"""From a ship-to to what the law there says: the one door to the rule packs for pages.

Nothing here is advice: every result carries the engine's caution, the citation and the day on
which the text was read, and what nobody could read in the law's own text is marked.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field
from datetime import date
from typing import Final

from formulas.engine.composition import slow_release_pct_of_n
from formulas.engine.law import (
    ANNUAL,
    Application,
    ChosenPacks,
    Circumstances,
    LawFinding,
    Status,
    Verdict,
    check_application,
    check_season,
    choose_packs,
    duties,
    governing,
    largest_n_rate,
    overall,
)
from formulas.engine.law import ShipTo as Address
from formulas.engine.law.choice import Remark
from formulas.engine.law.figures import pounds_down
from formulas.engine.law.rules import Basis
from formulas.reference.rule_packs import rule_packs
from formulas.wording.law import (
    caution_words,
    finding_words,
    fix_words,
    is_worded_anew,
    remark_words,
    topic_words,
    verdict_words,
)
from orders.compliance.questions import asked_in_words
from orders.models import ShipTo

_WORDS: Final = {
    Verdict.PASSES: "passes",
    Verdict.FAILS: "fails",
    Verdict.LIKELY_FAILS: "likely fails (figures unverified)",
    Verdict.NOT_ASSESSED: "not assessed",
}
_ORDER: Final = {Verdict.FAILS: 0, Verdict.NOT_ASSESSED: 1, Verdict.PASSES: 2}


@dataclass(frozen=True, slots=True)
class SprayPlace:
    """Where it is sprayed; ``is_typed`` when it was typed and is not the ship-to's address."""

    address: Address
    is_typed: bool

    @property
    def words(self) -> str:
        address = self.address
        county = address.county.strip()
        if county and "county" not in county.casefold() and "parish" not in county.casefold():
            county += " County"
        return ", ".join(part for part in (address.place, county, address.state.upper()) if part)


@dataclass(frozen=True, slots=True)
class Cited:
    """A sentence with the text it rests on."""

    sentence: str
    jurisdiction: str
    citation: str
    url: str
    date_checked: date
    text_as_of: str
    check_with: str
    note: str
    is_verified: bool
    evidence: str
    state: str


@dataclass(frozen=True, slots=True)
class FindingRow:
    """One rule's answer in words."""

    verdict: str
    slug: str
    topic: str
    sentence: str
    jurisdiction: str
    cited: Cited | None
    on: date | None
    finding: LawFinding

    @property
    def words(self) -> str:
        """The sentence in the reader's language."""
        return finding_words(self.finding)

    @property
    def fix(self) -> str:
        return fix_words(self.finding)

    @property
    def asks(self) -> tuple[tuple[str, str], ...]:
        """Field and words of what would settle it."""
        return tuple(asked_in_words(name) for name in self.finding.asks)

    @property
    def topic_words(self) -> str:
        return topic_words(self.finding.topic)

    @property
    def verdict_words(self) -> str:
        return verdict_words(self.finding.verdict)

    @property
    def english(self) -> str:
        """The engine's sentence where another one stands before it, else nothing."""
        return self.sentence if is_worded_anew() else ""


@dataclass(frozen=True, slots=True)
class LawReport:
    """Everything the law panel says of one application or one season.

    ``by_day`` holds what each day's application comes to, yearly sums left out.
    """

    place: SprayPlace
    verdict: str
    slug: str
    findings: tuple[FindingRow, ...]
    stricter: tuple[tuple[str, str], ...]
    remarks: tuple[Remark, ...]
    duties: tuple[Cited, ...]
    by_day: Mapping[date, Verdict] = field(default_factory=dict)

    @property
    def notes(self) -> tuple[str, ...]:
        """What must be known of the rules that were read."""
        return tuple(map(remark_words, self.remarks))

    @property
    def caution(self) -> str:
        return caution_words()

    def on_day(self, day: date) -> tuple[str, str]:
        """Slug and words of what the day's application comes to."""
        verdict = self.by_day.get(day, Verdict.NOT_ASSESSED)
        return _slug(verdict), verdict_words(verdict)

    def _with(self, slug: str) -> tuple[FindingRow, ...]:
        return tuple(row for row in self.findings if row.slug == slug)

    @property
    def failing(self) -> tuple[FindingRow, ...]:
        return self._with("fails")

    @property
    def open(self) -> tuple[FindingRow, ...]:
        return self._with("not-assessed")

    @property
    def passing(self) -> tuple[FindingRow, ...]:
        return self._with("passes")


@dataclass(frozen=True, slots=True)
class RateBound:
    """The largest legal rate; ``wide_lb`` and ``narrow_lb`` are None without a limit.

    ``citation`` is of the rule that sets the narrow figure. The words round down, so that
    whoever follows them keeps the limit.
    """

    wide_lb: float | None
    narrow_lb: float | None
    citation: str
    with_unverified_lb: float | None

    @property
    def is_settled(self) -> bool:
        return self.wide_lb == self.narrow_lb

    @property
    def wide(self) -> str:
        return _down(self.wide_lb)

    @property
    def narrow(self) -> str:
        return _down(self.narrow_lb)

    @property
    def with_unverified(self) -> str:
        return _down(self.with_unverified_lb)

    def forbids(self, n_rate_lb: float) -> bool:
        """Whether even the widest reading of the law does not allow this rate."""
        return self.wide_lb is not None and n_rate_lb > self.wide_lb + 1e-6


def place_of(ship_to: ShipTo | None, *, state: str, county: str, place: str) -> SprayPlace | None:
    """What was typed if a state was, else the ship-to's address; None if neither is known."""
    if state:
        return SprayPlace(Address(state.upper(), county.strip(), place.strip()), is_typed=True)
    if ship_to is None:
        return None
    return SprayPlace(Address(ship_to.state, ship_to.county, ship_to.city), is_typed=False)


def packs_at(place: SprayPlace) -> ChosenPacks:
    """The rule packs that hold there, with what must be known of the choice."""
    return choose_packs(rule_packs(), place.address)


def law_report(place: SprayPlace, application: Application) -> LawReport:
    """One application against every rule that holds where it is sprayed."""
    chosen = packs_at(place)
    return _report(place, chosen, check_application(chosen.packs, application))


def season_report(place: SprayPlace, plan: Sequence[Application]) -> LawReport:
    """A season's applications on their days, with the sums of each year."""
    chosen = packs_at(place)
    return _report(place, chosen, check_season(chosen.packs, plan), by_day=True)


def rate_bound(
    place: SprayPlace,
    analysis: dict[str, float],
    circumstances: Circumstances,
    *,
    on: date | None,
    include_unverified: bool,
) -> RateBound:
    """The largest rate of total N of a blend, lb per 1000 sq ft at a time."""
    packs = packs_at(place).packs
    slow = slow_release_pct_of_n(analysis) or 0.0
    total = sum(pct for key, pct in analysis.items() if key.startswith("N."))
    insoluble = 100.0 * analysis.get("N.insoluble", 0.0) / total if total else 0.0
    found, with_all = (
        largest_n_rate(
            packs,
            slow,
            circumstances,
            insoluble_share_pct=insoluble,
            on=on,
            include_unverified=unverified,
        )
        for unverified in (include_unverified, True)
    )
    return RateBound(
        _finite(found.wide_lb),
        _finite(found.narrow_lb),
        "" if found.rule is None else f"{found.rule.jurisdiction}, {found.rule.citation}",
        None if with_all.narrow_lb >= found.narrow_lb else with_all.narrow_lb,
    )


def state_of(rule: Basis) -> str:
    """The state whose rule it is, or that its county or place is in."""
    return rule.code.removeprefix("US-")[:2]


def cited(sentence: str, rule: Basis) -> Cited:
    """A sentence and its text, ready to print."""
    return Cited(
        sentence=sentence,
        jurisdiction=rule.jurisdiction,
        citation=rule.citation,
        url=rule.url if rule.url.startswith("https://") or rule.url.startswith("http://") else "",
        date_checked=rule.date_checked,
        text_as_of=rule.text_as_of,
        check_with=rule.check_with,
        note=rule.note,
        is_verified=rule.status is Status.ACTIVE,
        evidence=rule.evidence.value,
        state=state_of(rule),
    )


def _report(
    place: SprayPlace,
    chosen: ChosenPacks,
    found: Iterable[LawFinding],
    *,
    by_day: bool = False,
) -> LawReport:
    findings = tuple(found)
    verdict = overall(findings)
    rows = [_row(finding) for finding in findings]
    if not by_day:
        rows = [row for _, row in sorted(
            zip(findings, rows, strict=True), key=lambda pair: _ORDER[pair[0].verdict]
        )]  # fmt: skip
    return LawReport(
        place=place,
        verdict=_WORDS[verdict],
        slug=_slug(verdict),
        findings=tuple(rows),
        stricter=() if by_day else tuple(
            (item.topic.value, item.reason) for item in governing(findings)
        ),
        remarks=chosen.remarks,
        duties=tuple(cited(duty.text, duty.basis) for duty in duties(chosen.packs)),
        by_day=_by_day(findings) if by_day else {},
    )  # fmt: skip


def _by_day(findings: Sequence[LawFinding]) -> dict[date, Verdict]:
    """What each day comes to by the rule of the whole."""
    days: dict[date, list[LawFinding]] = {}
    for finding in findings:
        if finding.on is not None and finding.topic not in ANNUAL:
            days.setdefault(finding.on, []).append(finding)
    return {day: overall(found) for day, found in days.items()}


def _row(finding: LawFinding) -> FindingRow:
    return FindingRow(
        verdict=_WORDS[finding.verdict],
        slug=_slug(finding.verdict),
        topic=finding.topic.value,
        sentence=finding.sentence,
        jurisdiction=finding.jurisdiction,
        cited=None if finding.rule is None else cited(finding.sentence, finding.rule),
        on=finding.on,
        finding=finding,
    )


def _down(lb: float | None) -> str:
    return "without limit" if lb is None else pounds_down(lb)


def _slug(verdict: Verdict) -> str:
    return verdict.value.replace(" ", "-")


def _finite(lb: float) -> float | None:
    return lb if math.isfinite(lb) else None
