"""Phosphorus rules: whether phosphate may go on this lawn at all, and how much."""

from __future__ import annotations

from collections.abc import Iterator

from formulas.engine.law.application import Application, Circumstances
from formulas.engine.law.figures import percent, pounds
from formulas.engine.law.finding import LawFinding, Verdict, at_most
from formulas.engine.law.remedies import (
    ApplyAtMost,
    KeepPhosphateDown,
    LessOverTheYear,
    Nutrient,
    Remedy,
)
from formulas.engine.law.remedy_words import reasons
from formulas.engine.law.rules import Phosphorus, Topic

UNIT = "lb P2O5 per 1,000 sq ft"


def opened(rule: Phosphorus, answers: Circumstances) -> tuple[bool | None, tuple[str, ...]]:
    """Whether a reason stands: True, False, or None with the questions still open."""
    test, asks = _soil_test(rule, answers)
    states = [test] if rule.soil_test else []
    for wanted, name in (
        (rule.new_lawn, "new_lawn"),
        (rule.repair, "repair"),
        (rule.trained_golf, "trained_golf"),
    ):
        if wanted:
            answer: bool | None = getattr(answers, name)
            states.append(answer)
            asks += () if answer is not None else (name,)
    if any(state is True for state in states):
        return True, ()
    if any(state is None for state in states):
        return None, asks
    return False, ()


def _soil_test(rule: Phosphorus, answers: Circumstances) -> tuple[bool | None, tuple[str, ...]]:
    if not rule.soil_test or answers.soil_test_shows_p_need is False:
        return False, ()
    age = answers.soil_test_age_months
    if rule.soil_test_years and age is not None and age > 12.0 * rule.soil_test_years:
        return False, ()
    asks: tuple[str, ...] = ()
    if answers.soil_test_shows_p_need is None:
        asks += ("soil_test_shows_p_need",)
    if rule.soil_test_years and age is None:
        asks += ("soil_test_age_months",)
    return (None, asks) if asks else (True, ())


def phosphorus(rule: Phosphorus, app: Application) -> Iterator[LawFinding]:
    """Whether phosphate is allowed, then its share in the product and its rate."""
    free = rule.free_up_to_p2o5_pct
    if at_most(app.p2o5_pct, free):
        words = "The product brings no phosphate." if free == 0 else (
            f"{percent(app.p2o5_pct)} P2O5 is not above {percent(free)}."
        )  # fmt: skip
        yield _finding(rule, Topic.PHOSPHORUS, Verdict.PASSES, words)
        return
    if rule.needs_reason:
        stands = opened(rule, app.circumstances)
        yield _reasoned(rule, app, stands)
        if stands[0] is False:
            return
    if rule.largest_p2o5_pct is not None:
        yield _content(rule, app, rule.largest_p2o5_pct)
    limit = rate_limit_lb(rule, app.circumstances)
    if limit is not None:
        yield _rate(rule, app.p2o5_lb, limit)
    if rule.largest_p2o5_lb_per_year is not None and not starts(rule, app.circumstances):
        yield per_year(rule, app.p2o5_lb, app.circumstances.p2o5_earlier_this_year_lb)


def starts(rule: Phosphorus, answers: Circumstances) -> bool:
    """Whether the law's starter rate for a new lawn holds in place of its other rates."""
    return rule.starter_p2o5_lb is not None and bool(answers.new_lawn)


def rate_limit_lb(rule: Phosphorus, answers: Circumstances) -> float | None:
    """The largest phosphate at a time on this lawn; None without a limit."""
    return rule.starter_p2o5_lb if starts(rule, answers) else rule.largest_p2o5_lb


def _reasoned(
    rule: Phosphorus, app: Application, stands: tuple[bool | None, tuple[str, ...]]
) -> LawFinding:
    state, asks = stands
    named = reasons(rule)
    words = f"{percent(app.p2o5_pct)} P2O5 is allowed only for {', '.join(named)}"
    if rule.other_exceptions:
        words += f"; the text also excepts: {rule.other_exceptions}"
    if state is True:
        return _finding(rule, Topic.PHOSPHORUS, Verdict.PASSES, f"{words}. One of these stands.")
    verdict = Verdict.FAILS if state is False else Verdict.NOT_ASSESSED
    fix = KeepPhosphateDown(rule.free_up_to_p2o5_pct, rule if named else None)
    return _finding(rule, Topic.PHOSPHORUS, verdict, f"{words}.", (fix,), asks)


def _content(rule: Phosphorus, app: Application, limit_pct: float) -> LawFinding:
    passes = at_most(app.p2o5_pct, limit_pct)
    return LawFinding(
        Verdict.PASSES if passes else Verdict.FAILS,
        Topic.PHOSPHORUS,
        rule.basis.jurisdiction,
        f"{percent(app.p2o5_pct)} P2O5 against at most {percent(limit_pct)} in the product.",
        rule.basis,
        () if passes else (KeepPhosphateDown(limit_pct),),
        (),
        limit_pct,
        app.p2o5_pct,
        "% P2O5",
    )


def _rate(rule: Phosphorus, lb: float, limit_lb: float) -> LawFinding:
    passes = at_most(lb, limit_lb)
    return LawFinding(
        Verdict.PASSES if passes else Verdict.FAILS,
        Topic.P2O5_RATE,
        rule.basis.jurisdiction,
        f"{pounds(lb)} P2O5 against at most {pounds(limit_lb)} at a time.",
        rule.basis,
        () if passes else (ApplyAtMost(limit_lb, Nutrient.P2O5, at_a_time=True),),
        (),
        limit_lb,
        lb,
        UNIT,
    )


def per_year(rule: Phosphorus, this_lb: float, earlier_lb: float | None) -> LawFinding:
    """The year's phosphate: this much now on top of ``earlier_lb`` (None: not known)."""
    limit = rule.largest_p2o5_lb_per_year or 0.0
    used = this_lb + (earlier_lb or 0.0)
    verdict, words = Verdict.PASSES, ""
    asks: tuple[str, ...] = ()
    if not at_most(used, limit):
        verdict = Verdict.FAILS
    elif earlier_lb is None:
        verdict, asks = Verdict.NOT_ASSESSED, ("p2o5_earlier_this_year_lb",)
        words = " What was applied earlier this year is not known."
    return LawFinding(
        verdict,
        Topic.ANNUAL_P2O5,
        rule.basis.jurisdiction,
        f"{pounds(used)} P2O5 in the year against at most {pounds(limit)}.{words}",
        rule.basis,
        (LessOverTheYear(used - limit, Nutrient.P2O5),) if verdict is Verdict.FAILS else (),
        asks,
        limit,
        used,
        UNIT,
    )


def _finding(
    rule: Phosphorus,
    topic: Topic,
    verdict: Verdict,
    sentence: str,
    remedies: tuple[Remedy, ...] = (),
    asks: tuple[str, ...] = (),
) -> LawFinding:
    where = rule.basis.jurisdiction
    return LawFinding(verdict, topic, where, sentence, rule.basis, remedies, asks)
