"""Rules on dates, ground and weather, distance from water, and time after seeding."""

from __future__ import annotations

from collections.abc import Iterator
from datetime import date
from typing import Final

from formulas.engine.law.application import Application
from formulas.engine.law.finding import LawFinding, Verdict, at_least, at_most, pounds
from formulas.engine.law.rules import (
    Blackout,
    EstablishmentWait,
    Ground,
    GroundRule,
    Setback,
    Topic,
)

_GROUND_WORDS: Final = {
    Ground.FROZEN_OR_SNOW: "frozen or snow-covered ground",
    Ground.SATURATED: "soil saturated with water",
    Ground.HEAVY_RAIN: "heavy rain falling or expected",
    Ground.STORM_WARNING: "a flood, tropical storm or hurricane watch or warning",
}


def in_window(day: date, first: tuple[int, int], last: tuple[int, int]) -> bool:
    """Whether the day is from ``first`` to ``last`` (month, day), both included.

    A window whose first day is later in the year than its last crosses the year's end.

    >>> in_window(date(2027, 1, 10), (12, 1), (4, 1))
    True
    """
    here = (day.month, day.day)
    if first <= last:
        return first <= here <= last
    return here >= first or here <= last


def day_name(day: tuple[int, int]) -> str:
    """A month and day in words; 29 February is the last day of any February."""
    if day == (2, 29):
        return "the end of February"
    return f"{date(2000, *day):%B} {day[1]}"


def blackout(rule: Blackout, app: Application) -> Iterator[LawFinding]:
    """Whether the day falls into a closed window."""
    touched = app.nutrients & rule.nutrients
    if not touched:
        return
    window = f"{day_name(rule.first)} to {day_name(rule.last)}"
    rest = ""
    if rule.largest_n_lb > 0:
        rest = f" above {pounds(rule.largest_n_lb)} N"
    words = f"No {' or '.join(sorted(touched))}{rest} from {window}, both days included."
    verdict, fix = Verdict.PASSES, ""
    asks: tuple[str, ...] = ()
    if rule.new_lawn_exempt and app.circumstances.new_lawn:
        words += " A new lawn is excepted."
    elif app.on is None:
        verdict, asks = Verdict.NOT_ASSESSED, ("on",)
    elif in_window(app.on, rule.first, rule.last) and not (
        rule.largest_n_lb > 0 and at_most(app.total_n_lb, rule.largest_n_lb)
    ):
        verdict = Verdict.FAILS
        words += f" {app.on:%B} {app.on.day} falls into it."
        fix = "Apply outside these dates"
        fix += f", or at most {pounds(rule.largest_n_lb)} N." if rest else "."
    yield LawFinding(verdict, Topic.BLACKOUT, rule.basis.jurisdiction, words, rule.basis, fix, asks)


def ground(rule: GroundRule, app: Application) -> Iterator[LawFinding]:
    """One finding for all the conditions the rule forbids."""
    if not app.nutrients & rule.nutrients:
        return
    words = f"Not with {', '.join(_GROUND_WORDS[kind] for kind in rule.forbidden)}."
    answers = {kind: app.circumstances.ground(kind) for kind in rule.forbidden}
    open_questions = tuple(kind.value for kind, answer in answers.items() if answer is None)
    met = tuple(_GROUND_WORDS[kind] for kind, answer in answers.items() if answer)
    verdict, fix = Verdict.PASSES, ""
    asks: tuple[str, ...] = ()
    if met:
        verdict, fix = Verdict.FAILS, f"Wait: {', '.join(met)}."
    elif open_questions:
        verdict, asks = Verdict.NOT_ASSESSED, open_questions
    yield LawFinding(verdict, Topic.GROUND, rule.basis.jurisdiction, words, rule.basis, fix, asks)


def setback(rule: Setback, app: Application) -> Iterator[LawFinding]:
    """The distance from water that this spraying needs."""
    if not app.nutrients & rule.nutrients:
        return
    answers = app.circumstances
    words = f"{rule.feet:g} ft from water"
    if rule.targeted_feet is not None:
        words += f", {rule.targeted_feet:g} ft with a targeted liquid spray"
    if rule.natural_buffer_feet is not None:
        words += f"; none behind a natural buffer of {rule.natural_buffer_feet:g} ft"
    buffered = (
        rule.natural_buffer_feet is not None
        and answers.natural_buffer_ft is not None
        and at_least(answers.natural_buffer_ft, rule.natural_buffer_feet)
    )
    needed = rule.feet
    if rule.targeted_feet is not None and answers.targeted_spray:
        needed = rule.targeted_feet
    distance = answers.distance_to_water_ft
    verdict, fix = Verdict.PASSES, ""
    asks: tuple[str, ...] = ()
    if buffered or (rule.new_lawn_exempt and answers.new_lawn):
        words += "; not asked here"
    elif distance is None:
        verdict, asks = Verdict.NOT_ASSESSED, ("distance_to_water_ft",)
    elif not at_least(distance, needed):
        verdict, fix = Verdict.FAILS, f"Keep {needed:g} ft from water."
        if rule.targeted_feet is not None and at_least(distance, rule.targeted_feet):
            fix = f"Keep {needed:g} ft from water, or use a targeted spray."
            if answers.targeted_spray is None:
                verdict, asks = Verdict.NOT_ASSESSED, ("targeted_spray",)
    yield LawFinding(
        verdict,
        Topic.SETBACK,
        rule.basis.jurisdiction,
        f"{words}.",
        rule.basis,
        fix,
        asks,
        needed,
        distance,
        "ft",
        largest=False,
    )


def establishment(rule: EstablishmentWait, app: Application) -> Iterator[LawFinding]:
    """Whether enough days have passed since seeding or sodding."""
    if not app.nutrients:
        return
    answers = app.circumstances
    words = f"No N or P2O5 before seeding or sodding, nor for {rule.days:g} days after."
    verdict, fix = Verdict.PASSES, ""
    asks: tuple[str, ...] = ()
    days = answers.days_since_seeding
    if days is not None:
        if not at_least(days, rule.days):
            verdict, fix = Verdict.FAILS, f"Wait {rule.days - days:g} more days."
    elif answers.new_lawn is not False:
        verdict, asks = Verdict.NOT_ASSESSED, ("new_lawn", "days_since_seeding")
    yield LawFinding(
        verdict, Topic.ESTABLISHMENT, rule.basis.jurisdiction, words, rule.basis, fix, asks
    )
