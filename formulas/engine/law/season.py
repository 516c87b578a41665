"""A season's plan: every application on its day, and the sums over each calendar year."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import replace
from typing import Final

from formulas.engine.law import nitrogen, phosphorus
from formulas.engine.law.application import Application
from formulas.engine.law.check import asking_who_sprays, binds, check_application, no_pack
from formulas.engine.law.finding import LawFinding
from formulas.engine.law.rules import NitrogenPerYear, Phosphorus, RulePack, Topic
from formulas.engine.problem import BadProblem, FieldError

#: Topics of a whole year; the others are of one application.
ANNUAL: Final = frozenset({Topic.ANNUAL_N, Topic.ANNUAL_P2O5})


def check_season(packs: Iterable[RulePack], plan: Sequence[Application]) -> tuple[LawFinding, ...]:
    """Each application's findings in order of date, then the yearly sums.

    Every application needs its day, else ``BadProblem``. The plan is taken as all that is
    applied in each calendar year, so ``*_earlier_this_year_lb`` is added only to the first
    year. Where a law's "year" is not said to be the calendar year this is how it is screened.
    """
    missing = [i for i, application in enumerate(plan) if application.on is None]
    if missing:
        raise BadProblem(tuple(FieldError(f"plan.{i}.on", "needs a date") for i in missing))
    chosen = tuple(packs)
    if not chosen:
        return (no_pack(),)
    ordered = sorted(plan, key=lambda application: (application.on, application.total_n_lb))
    found = [
        finding
        for application in ordered
        for finding in check_application(chosen, application)
        if finding.topic not in ANNUAL
    ]
    years = sorted({application.on.year for application in ordered if application.on})
    for year in years:
        parts = [a for a in ordered if a.on is not None and a.on.year == year]
        found.extend(_year(chosen, year, parts, first=year == years[0]))
    return tuple(found)


def _year(
    packs: tuple[RulePack, ...], year: int, parts: Sequence[Application], *, first: bool
) -> Iterator[LawFinding]:
    answers = parts[0].circumstances
    earlier_n = (answers.n_earlier_this_year_lb or 0.0) if first else 0.0
    earlier_p = (answers.p2o5_earlier_this_year_lb or 0.0) if first else 0.0
    total_n = sum(part.total_n_lb for part in parts)
    for rule in (rule for pack in packs for rule in pack.rules):
        if not binds(rule, answers):
            continue
        if isinstance(rule, NitrogenPerYear):
            finding = nitrogen.per_year(rule, answers.grass, total_n, earlier_n)
        elif isinstance(rule, Phosphorus) and rule.largest_p2o5_lb_per_year is not None:
            counted = [part for part in parts if not phosphorus.starts(rule, part.circumstances)]
            finding = phosphorus.per_year(rule, sum(p.p2o5_lb for p in counted), earlier_p)
        else:
            continue
        finding = asking_who_sprays(rule, answers, finding)
        sentence = f"{year}: {finding.sentence}"
        yield replace(finding, sentence=sentence, on=parts[-1].on)
