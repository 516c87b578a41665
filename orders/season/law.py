"""A season against the law of each place: every round on its day, and the sums of the year.

Each property goes through the one check of a season (``compliance.check.season_report``), once
for all that are alike. A season treats lawns that stand: no new lawn, no repair, whose
exceptions would only widen the limits.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Hashable, Iterable, Mapping, Sequence
from dataclasses import dataclass, field
from datetime import date
from typing import Final

from formulas.engine.law import (
    ANNUAL,
    Application,
    Circumstances,
    Topic,
    at_n_rate,
)
from orders.compliance.check import (
    FindingRow,
    LawReport,
    SprayPlace,
    law_report,
    place_of,
    season_report,
)
from orders.models import ProgramRound, Property, SeasonProgram

ANNUAL_TOPICS: Final = frozenset(topic.value for topic in ANNUAL)
#: What another blend can put right, where no rate does.
CONTENT_TOPICS: Final = frozenset(
    topic.value
    for topic in (
        Topic.READILY_AVAILABLE_N,
        Topic.SLOW_SHARE,
        Topic.PHOSPHORUS,
        Topic.P2O5_RATE,
        Topic.ANNUAL_P2O5,
    )
)
_DAYS_A_MONTH: Final = 365.2425 / 12
_FAILS: Final = "fails"


@dataclass(frozen=True, slots=True)
class Alike:
    """Properties of one place and one set of answers, treated in the same rounds."""

    properties: tuple[Property, ...]
    place: SprayPlace
    rounds: tuple[ProgramRound, ...]
    professional: bool | None

    @property
    def names(self) -> str:
        return ", ".join(each.name for each in self.properties)

    def circumstances(self, on: date) -> Circumstances:
        """The answers on a day."""
        one = self.properties[0]
        tested = one.soil_test_on
        age = None if tested is None or tested > on else (on - tested).days / _DAYS_A_MONTH
        return Circumstances(
            professional=self.professional,
            soil_test_shows_p_need=one.soil_test_shows_p_need,
            soil_test_age_months=age,
            new_lawn=False,
            repair=False,
            grass=one.grass or None,
            targeted_spray=one.targeted_spray,
            distance_to_water_ft=one.distance_to_water_ft,
        )

    def application(self, rnd: ProgramRound, rate: float | None = None) -> Application:
        """A round at its own rate or another, lb total N per 1,000 sq ft."""
        return at_n_rate(
            forms_of(rnd), rate or rnd.n_rate_lb_per_1000sqft, rnd.on, self.circumstances(rnd.on)
        )


@dataclass(frozen=True, slots=True)
class Over:
    """A limit that is broken: in ``round``, or over the year without one."""

    round: ProgramRound | None
    row: FindingRow
    properties: str

    @property
    def is_verified(self) -> bool:
        return self.row.cited is not None and self.row.cited.is_verified


@dataclass(frozen=True, slots=True)
class Checked:
    """Properties that are alike with what the law says of their season."""

    alike: Alike
    report: LawReport

    @property
    def yearly(self) -> tuple[FindingRow, ...]:
        return tuple(row for row in self.report.findings if row.topic in ANNUAL_TOPICS)

    @property
    def broken(self) -> int:
        return len(self.report.failing)

    @property
    def is_settled(self) -> bool:
        """Whether every rule that was read could be answered."""
        return bool(self.report.findings) and all(
            row.slug in ("passes", _FAILS) for row in self.report.findings
        )

    @property
    def noteworthy(self) -> tuple[FindingRow, ...]:
        """What of single rounds is broken or not settled."""
        return tuple(
            row
            for row in self.report.findings
            if row.topic not in ANNUAL_TOPICS and row.slug != "passes"
        )


@dataclass(frozen=True, slots=True)
class SeasonLaw:
    """All checks of a program, and every limit that is broken, once."""

    checked: tuple[Checked, ...]
    over: tuple[Over, ...]
    words_of: Mapping[int, tuple[str, str]] = field(default_factory=dict)

    @property
    def worst_first(self) -> tuple[Checked, ...]:
        return tuple(sorted(self.checked, key=lambda one: (-one.broken, one.is_settled)))

    def over_in(self, rnd: ProgramRound) -> tuple[Over, ...]:
        return tuple(each for each in self.over if each.round and each.round.pk == rnd.pk)

    @property
    def over_year(self) -> tuple[Over, ...]:
        return tuple(each for each in self.over if each.round is None)


def forms_of(rnd: ProgramRound) -> dict[str, float]:
    """The blend's contents without the sum of nitrogen, as the law's questions take them."""
    return {key: pct for key, pct in rnd.revision.analysis.items() if key != "N"}


def holds_nitrogen(rnd: ProgramRound) -> bool:
    return rnd.revision.analysis.get("N", 0.0) > 0


def alike_properties(
    program: SeasonProgram,
    treated: Mapping[int, Sequence[Property]],
    rounds: Iterable[ProgramRound],
) -> tuple[Alike, ...]:
    """Properties by place, answers and rounds; ``treated`` says by round which are sprayed."""
    by_property: dict[Property, list[ProgramRound]] = defaultdict(list)
    for rnd in rounds:
        if holds_nitrogen(rnd):
            for each in treated[rnd.pk]:
                by_property[each].append(rnd)
    groups: dict[Hashable, list[Property]] = defaultdict(list)
    for each, own in by_property.items():
        groups[_answers(each), tuple(rnd.pk for rnd in own)].append(each)
    found = []
    for same in groups.values():
        one = same[0]
        place = place_of(None, state=one.state, county=one.county, place=one.place)
        if place is not None:
            found.append(Alike(tuple(same), place, tuple(by_property[one]), program.professional))
    return tuple(found)


def _answers(each: Property) -> Hashable:
    return (
        each.state,
        each.county,
        each.place,
        each.grass,
        each.targeted_spray,
        each.distance_to_water_ft,
        each.soil_test_shows_p_need,
        each.soil_test_on,
    )


def check_season_of(groups: Sequence[Alike]) -> SeasonLaw:
    """Every group's season, and each broken limit once with the properties it is broken on."""
    checked = [
        Checked(each, season_report(each.place, [each.application(r) for r in each.rounds]))
        for each in groups
    ]
    broken: dict[Hashable, tuple[ProgramRound | None, FindingRow, list[str]]] = {}
    words: dict[int, tuple[str, str]] = {}
    for one in checked:
        for row in one.report.failing:
            annual = row.topic in ANNUAL_TOPICS
            meant = [None] if annual else [r for r in one.alike.rounds if r.on == row.on]
            for rnd in meant:
                key = (rnd.pk if rnd else None, row.topic, row.jurisdiction, row.sentence)
                broken.setdefault(key, (rnd, row, []))[2].append(one.alike.names)
        for rnd in one.alike.rounds:
            slug, said = one.report.on_day(rnd.on)
            if _ORDER.get(slug, 1) <= _ORDER.get(words.get(rnd.pk, ("", ""))[0], 9):
                words[rnd.pk] = (slug, said)
    over = tuple(Over(rnd, row, ", ".join(names)) for rnd, row, names in broken.values())
    return SeasonLaw(tuple(checked), over, words)


#: The worst of several verdicts stands for a round.
_ORDER: Final = {"fails": 0, "likely-fails": 1, "not-assessed": 2, "passes": 3}


def keeps_every_limit(rnd: ProgramRound, groups: Iterable[Alike], rate: float) -> bool:
    """Whether the round alone breaks nothing at this rate on any property it treats."""
    return not any(
        row.slug == _FAILS and row.topic not in ANNUAL_TOPICS
        for each in groups
        if rnd in each.rounds
        for row in law_report(each.place, each.application(rnd, rate)).findings
    )


def keeps_every_year(groups: Iterable[Alike], rates: Mapping[int, float]) -> bool:
    """Whether the year's sums are kept everywhere with these rates by round."""
    return not any(
        row.slug == _FAILS and row.topic in ANNUAL_TOPICS
        for each in groups
        for row in season_report(
            each.place, [each.application(r, rates[r.pk]) for r in each.rounds]
        ).findings
    )
