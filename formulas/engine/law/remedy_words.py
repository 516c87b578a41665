"""Remedies in the engine's own sentences; other languages word the same remedies anew."""

from __future__ import annotations

from collections.abc import Iterable
from datetime import date
from typing import Final

from formulas.engine.law.figures import percent, percent_up, pounds, pounds_down
from formulas.engine.law.remedies import (
    ApplyAtMost,
    AsTheTextSays,
    KeepFromWater,
    KeepPhosphateDown,
    LessOverTheYear,
    MoreWhenSlow,
    OutsideTheDates,
    PrintTheSentence,
    RaiseSlow,
    RaiseSlowOrApplyLess,
    ReadTheRules,
    Remedy,
    WaitDays,
    WaitForGround,
)
from formulas.engine.law.rules import Ground, Phosphorus

GROUND_WORDS: Final = {
    Ground.FROZEN_OR_SNOW: "frozen or snow-covered ground",
    Ground.SATURATED: "soil saturated with water",
    Ground.HEAVY_RAIN: "heavy rain falling or expected",
    Ground.STORM_WARNING: "a flood, tropical storm or hurricane watch or warning",
}


def remedy_words(remedy: Remedy) -> str:  # noqa: C901 - one case each
    match remedy:
        case ApplyAtMost(lb, of, at_a_time):
            return f"Apply at most {pounds_down(lb)} {of}{' at a time' if at_a_time else ''}."
        case MoreWhenSlow(lb, slow_pct, months):
            when = f" in {', '.join(map(_month, sorted(months)))}" if months else ""
            return f"Up to {pounds(lb)} from {percent(slow_pct)} slow release{when}."
        case AsTheTextSays(text):
            return text
        case RaiseSlowOrApplyLess(to_pct, as_counted, lb):
            kind = " that the law counts" if as_counted else ""
            return (
                f"Raise slow release{kind} to {percent_up(to_pct)} of total nitrogen"
                f" or apply at most {pounds_down(lb)} N."
            )
        case RaiseSlow():
            return _raise_slow(remedy)
        case LessOverTheYear(lb, of):
            return f"Apply {pounds(lb)} {of} less over the year."
        case KeepPhosphateDown(to_pct, rule):
            keep = f"Keep P2O5 at {percent(to_pct)} or less" if to_pct else "Leave phosphate out"
            show = f", or show {' or '.join(reasons(rule))}" if rule else ""
            return f"{keep}{show}."
        case OutsideTheDates(lb):
            return f"Apply outside these dates{f', or at most {pounds(lb)} N' if lb else ''}."
        case WaitForGround(met):
            return f"Wait: {', '.join(_grounds(met))}."
        case KeepFromWater(feet, or_targeted):
            targeted = ", or use a targeted spray" if or_targeted else ""
            return f"Keep {feet:g} ft from water{targeted}."
        case WaitDays(days):
            return f"Wait {days:g} more days."
        case PrintTheSentence():
            return "Print the sentence word for word."
        case ReadTheRules():
            return "Read the state's and the locality's own rules before spraying."


def _raise_slow(remedy: RaiseSlow) -> str:
    of_what = " that is not water soluble" if remedy.insoluble else ""
    words = f"Raise slow release{of_what} to {percent_up(remedy.to_pct)} of total nitrogen"
    if remedy.insoluble:
        words += ", or ask the state how it counts water-soluble slow nitrogen"
    if remedy.or_at_most_lb is not None:
        who = " (professionals only)" if remedy.professionals_only else ""
        words += f", or apply at most {pounds(remedy.or_at_most_lb)} N{who}"
    return f"{words}."


def reasons(rule: Phosphorus) -> tuple[str, ...]:
    """The reasons that open the rule, in words."""
    found = []
    if rule.soil_test:
        age = f" at most {rule.soil_test_years:g} years old" if rule.soil_test_years else ""
        found.append(f"a soil test{age} that shows the need")
    if rule.new_lawn:
        found.append("a new lawn")
    if rule.repair:
        found.append("repair or re-establishment")
    if rule.trained_golf:
        found.append("a golf course with trained staff")
    return tuple(found)


def _month(month: int) -> str:
    return date(2001, month, 1).strftime("%B")


def _grounds(kinds: Iterable[Ground]) -> Iterable[str]:
    return (GROUND_WORDS[kind] for kind in kinds)
