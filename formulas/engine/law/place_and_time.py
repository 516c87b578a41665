"""Rules on dates, ground and weather, distance from water, and time after seeding."""

from __future__ import annotations

from collections.abc import Iterator
from datetime import date

from formulas.engine.law.application import Application
from formulas.engine.law.figures import pounds
from formulas.engine.law.finding import LawFinding, Verdict, at_least, at_most
from formulas.engine.law.remedies import (
    KeepFromWater,
    OutsideTheDates,
    Remedy,
    WaitDays,
    WaitForGround,
)
from formulas.engine.law.remedy_words import GROUND_WORDS
from formulas.engine.law.rules import Blackout, EstablishmentWait, GroundRule, Setback, Topic


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
    verdict = Verdict.PASSES
    fixes: tuple[Remedy, ...] = ()
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
        fixes = (OutsideTheDates(rule.largest_n_lb),)
    where = rule.basis.jurisdiction
    yield LawFinding(verdict, Topic.BLACKOUT, where, words, rule.basis, fixes, asks)


def ground(rule: GroundRule, app: Application) -> Iterator[LawFinding]:
    """One finding for all the conditions the rule forbids."""
    if not app.nutrients & rule.nutrients:
        return
    words = f"Not with {', '.join(GROUND_WORDS[kind] for kind in rule.forbidden)}."
    answers = {kind: app.circumstances.ground(kind) for kind in rule.forbidden}
    open_questions = tuple(kind.value for kind, answer in answers.items() if answer is None)
    met = tuple(kind for kind, answer in answers.items() if answer)
    verdict = Verdict.PASSES
    fixes: tuple[Remedy, ...] = ()
    asks: tuple[str, ...] = ()
    if met:
        verdict, fixes = Verdict.FAILS, (WaitForGround(met),)
    elif open_questions:
        verdict, asks = Verdict.NOT_ASSESSED, open_questions
    where = rule.basis.jurisdiction
    yield LawFinding(verdict, Topic.GROUND, where, words, rule.basis, fixes, asks)


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
    verdict = Verdict.PASSES
    fixes: tuple[Remedy, ...] = ()
    asks: tuple[str, ...] = ()
    if buffered or (rule.new_lawn_exempt and answers.new_lawn):
        words += "; not asked here"
    elif distance is None:
        verdict, asks = Verdict.NOT_ASSESSED, ("distance_to_water_ft",)
    elif not at_least(distance, needed):
        targeted = rule.targeted_feet is not None and at_least(distance, rule.targeted_feet)
        verdict, fixes = Verdict.FAILS, (KeepFromWater(needed, targeted),)
        if targeted and answers.targeted_spray is None:
            verdict, asks = Verdict.NOT_ASSESSED, ("targeted_spray",)
    yield LawFinding(
        verdict,
        Topic.SETBACK,
        rule.basis.jurisdiction,
        f"{words}.",
        rule.basis,
        fixes,
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
    verdict = Verdict.PASSES
    fixes: tuple[Remedy, ...] = ()
    asks: tuple[str, ...] = ()
    days = answers.days_since_seeding
    if days is not None:
        if not at_least(days, rule.days):
            verdict, fixes = Verdict.FAILS, (WaitDays(rule.days - days),)
    elif answers.new_lawn is not False:
        verdict, asks = Verdict.NOT_ASSESSED, ("new_lawn", "days_since_seeding")
    yield LawFinding(
        verdict, Topic.ESTABLISHMENT, rule.basis.jurisdiction, words, rule.basis, fixes, asks
    )
