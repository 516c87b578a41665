"""Nitrogen rules: how much at a time, how much of it slow, how much in a year.

With a total limit T and a readily available limit R, the largest rate at slow share s is
min(T, R / (1 - s)); the same arithmetic gives the share that a wanted rate needs.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Iterator
from datetime import date

from formulas.engine.law.application import Application, grass_name
from formulas.engine.law.figures import percent, pounds
from formulas.engine.law.finding import LawFinding, Verdict, at_least, at_most, judged
from formulas.engine.law.readings import Reading, readings
from formulas.engine.law.remedies import (
    ApplyAtMost,
    AsTheTextSays,
    LessOverTheYear,
    MoreWhenSlow,
    Nutrient,
    RaiseSlow,
    RaiseSlowOrApplyLess,
    Remedy,
)
from formulas.engine.law.rules import (
    Applicator,
    NitrogenPerApplication,
    NitrogenPerYear,
    SlowShare,
    SolubleSlow,
    Topic,
)

UNIT = "lb N per 1,000 sq ft"


def total_limit_lb(rule: NitrogenPerApplication, slow_pct: float, on: date | None) -> float:
    """The total limit at this slow share; a step bound to months needs a date to hold."""
    limits = [math.inf if rule.largest_total_lb is None else rule.largest_total_lb]
    limits += [
        step.largest_total_lb
        for step in rule.steps
        if at_least(slow_pct, step.from_slow_pct)
        and (not step.months or (on is not None and on.month in step.months))
    ]
    return max(limits)


def readily_limit_lb(rule: NitrogenPerApplication, slow_pct: float) -> float:
    """The total rate at which the readily available limit is just kept."""
    if rule.largest_readily_available_lb is None or slow_pct >= 100.0:
        return math.inf
    return rule.largest_readily_available_lb / (1.0 - slow_pct / 100.0)


def per_application(rule: NitrogenPerApplication, app: Application) -> Iterator[LawFinding]:
    """Total and readily available nitrogen of one application."""
    if rule.grass and app.circumstances.grass not in rule.grass:
        if app.circumstances.grass is None:
            yield LawFinding(
                Verdict.NOT_ASSESSED,
                Topic.TOTAL_N,
                rule.basis.jurisdiction,
                f"The rate depends on the grass ({_listed(rule.grass)}).",
                rule.basis,
                asks=("grass",),
            )
        return
    ways = readings(rule.soluble_slow, app.slow_pct, app.insoluble_pct)
    if rule.largest_total_lb is not None:
        yield _total(rule, app, ways)
    if rule.largest_readily_available_lb is not None:
        yield _readily_available(rule, app, ways)


def _total(rule: NitrogenPerApplication, app: Application, ways: tuple[Reading, ...]) -> LawFinding:
    rate = app.total_n_lb
    limits = [total_limit_lb(rule, way.slow_pct, app.on) for way in ways]
    verdict = judged(at_most(rate, limit) for limit in limits)
    sentence = f"{pounds(rate)} total nitrogen against at most {pounds(limits[0])}"
    sentence += f" ({pounds(limits[-1])} {ways[-1].words})." if limits[0] != limits[-1] else "."
    fixes: list[Remedy] = []
    if verdict is not Verdict.PASSES:
        fixes = [ApplyAtMost(min(limits))]
        fixes += [
            MoreWhenSlow(step.largest_total_lb, step.from_slow_pct, step.months)
            for step in rule.steps
            if at_most(rate, step.largest_total_lb)
        ]
    if verdict is Verdict.FAILS and rule.enhanced_efficiency:
        fixes.append(AsTheTextSays(rule.enhanced_efficiency))
        if app.circumstances.enhanced_efficiency:
            verdict = Verdict.NOT_ASSESSED
            sentence += " The release over time of an enhanced-efficiency product decides."
    return LawFinding(
        verdict,
        Topic.TOTAL_N,
        rule.basis.jurisdiction,
        sentence,
        rule.basis,
        tuple(fixes),
        (),
        min(limits),
        rate,
        UNIT,
    )


def _readily_available(
    rule: NitrogenPerApplication, app: Application, ways: tuple[Reading, ...]
) -> LawFinding:
    limit = rule.largest_readily_available_lb or 0.0
    rate = app.total_n_lb
    quick = [rate * (1.0 - way.slow_pct / 100.0) for way in ways]
    verdict = judged(at_most(lb, limit) for lb in quick)
    sentence = f"{pounds(quick[0])} readily available nitrogen against at most {pounds(limit)}"
    if len(ways) > 1 and quick[0] != quick[-1]:
        sentence += (
            f" {ways[0].words}; {pounds(quick[-1])} {ways[-1].words}. The text seen does not"
            " settle which"
        )
    fixes: tuple[Remedy, ...] = ()
    if verdict is not Verdict.PASSES:
        needed = 100.0 * (1.0 - limit / rate)
        as_counted = rule.soluble_slow is not SolubleSlow.COUNTS
        most = readily_limit_lb(rule, ways[-1].slow_pct)
        fixes = (RaiseSlowOrApplyLess(needed, as_counted, most),)
    return LawFinding(
        verdict,
        Topic.READILY_AVAILABLE_N,
        rule.basis.jurisdiction,
        f"{sentence}.",
        rule.basis,
        fixes,
        (),
        limit,
        quick[-1],
        UNIT,
    )


def slow_share(rule: SlowShare, app: Application) -> Iterator[LawFinding]:
    """The smallest slow-release share, with the exemptions of the text."""
    if app.total_n_lb <= 0:
        return
    ways = readings(rule.soluble_slow, app.slow_pct, app.insoluble_pct)
    verdict = judged(at_least(way.slow_pct, rule.smallest_pct) for way in ways)
    sentence = f"{percent(ways[0].slow_pct)} of total nitrogen is slow release"
    if len(ways) > 1 and ways[0].slow_pct != ways[-1].slow_pct:
        sentence += f" {ways[0].words}, {percent(ways[-1].slow_pct)} {ways[-1].words}"
    elif ways[0].slow_pct != app.slow_pct:
        sentence += " here, as the law counts no water-soluble nitrogen as slow"
    sentence += f"; at least {percent(rule.smallest_pct)} is asked."
    asks: tuple[str, ...] = ()
    if verdict is not Verdict.PASSES:
        verdict, reason, asks = _exempted(rule, app, verdict)
        sentence += reason
    fixes: tuple[Remedy, ...] = ()
    if verdict is not Verdict.PASSES:
        insoluble = app.slow_pct >= rule.smallest_pct
        whom = rule.exempt_applicator is not Applicator.ANYONE
        fixes = (RaiseSlow(rule.smallest_pct, insoluble, rule.exempt_up_to_n_lb, whom),)
    yield LawFinding(
        verdict,
        Topic.SLOW_SHARE,
        rule.basis.jurisdiction,
        sentence,
        rule.basis,
        fixes,
        asks,
        rule.smallest_pct,
        ways[-1].slow_pct,
        "% of total N",
        largest=False,
    )


def _exempted(
    rule: SlowShare, app: Application, verdict: Verdict
) -> tuple[Verdict, str, tuple[str, ...]]:
    """The verdict after exemptions, the words for it, and what it still asks."""
    rate = app.total_n_lb
    total, readily = rule.liquid_exempt_total_lb, rule.liquid_exempt_readily_available_lb
    quick = rate * (1.0 - app.slow_pct / 100.0)
    if total is not None and readily is not None:
        if at_most(rate, total) and at_most(quick, readily):
            return Verdict.PASSES, " A liquid applied within the law's rates is exempt.", ()
        return verdict, " A liquid is exempt only within the law's rates.", ()
    if rule.exempt_up_to_n_lb is not None and at_most(rate, rule.exempt_up_to_n_lb):
        words = f" Up to {pounds(rule.exempt_up_to_n_lb)} N is exempt"
        if rule.exempt_applicator is Applicator.ANYONE or app.circumstances.professional:
            return Verdict.PASSES, f"{words}.", ()
        if app.circumstances.professional is None:
            return Verdict.NOT_ASSESSED, f"{words} for professionals.", ("professional",)
    if rule.certain_above_n_lb is not None and at_most(rate, rule.certain_above_n_lb):
        words = f" At {pounds(rule.certain_above_n_lb)} N or less the text can be read either way."
        return Verdict.NOT_ASSESSED, words, ()
    return verdict, "", ()


def annual_limit_lb(rule: NitrogenPerYear, grass: str | None) -> float | None:
    """The year's limit for this grass; None when the grass is not named or not listed."""
    if rule.largest_lb is not None:
        return rule.largest_lb
    return dict(rule.by_grass).get(grass or "")


def per_year(
    rule: NitrogenPerYear, grass: str | None, this_lb: float, earlier_lb: float | None
) -> LawFinding:
    """The year's nitrogen: this much now on top of ``earlier_lb`` (None: not known)."""
    limit = annual_limit_lb(rule, grass)
    if limit is None:
        listed = ", ".join(f"{grass_name(name)} {pounds(lb)}" for name, lb in rule.by_grass)
        return LawFinding(
            Verdict.NOT_ASSESSED,
            Topic.ANNUAL_N,
            rule.basis.jurisdiction,
            f"The year's limit depends on the grass: {listed}.",
            rule.basis,
            asks=("grass",),
        )
    used = this_lb + (earlier_lb or 0.0)
    asks: tuple[str, ...] = ()
    if not at_most(used, limit):
        verdict = Verdict.FAILS
    elif earlier_lb is None:
        verdict, asks = Verdict.NOT_ASSESSED, ("n_earlier_this_year_lb",)
    else:
        verdict = Verdict.PASSES
    words = "" if earlier_lb is not None else " What was applied earlier this year is not known."
    fixes = (LessOverTheYear(used - limit, Nutrient.N),) if verdict is Verdict.FAILS else ()
    return LawFinding(
        verdict,
        Topic.ANNUAL_N,
        rule.basis.jurisdiction,
        f"{pounds(used)} nitrogen in the year against at most {pounds(limit)}.{words}",
        rule.basis,
        fixes,
        asks,
        limit,
        used,
        UNIT,
    )


def _listed(grasses: Iterable[str]) -> str:
    return ", ".join(grass_name(grass) for grass in sorted(grasses))
