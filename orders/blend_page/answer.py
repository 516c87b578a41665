"""The answer as the page shows it: plain rows and words, nothing left to work out."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from decimal import Decimal
from typing import Any, Final
from urllib.parse import urlencode

from blendshop.money import money
from formulas import reference
from formulas.blends.answer_rows import AnalysisRow, RecipeRow, analysis_rows, recipe_rows
from formulas.contracts.formulation import Formulation
from formulas.engine.label.grade import grade_of
from formulas.engine.result import OutOfReach, Reach
from formulas.engine_bridge import exact
from orders.blend_page.question import Question, WishPlace

#: A wish of less than one percent is asked for in tenths, so it is priced in tenths.
_TENTH: Final = Decimal("0.1")
_SEVERITY_WORDS: Final = {"stop": "Stop", "caution": "Caution", "info": "Note"}


@dataclass(frozen=True, slots=True)
class Warning:
    """A finding in words. The word of the severity stands beside its colour."""

    code: str
    severity: str
    word: str
    message: str
    source: str


@dataclass(frozen=True, slots=True)
class WishPrice:
    """What a little more of a wish costs or saves in material, per gallon of blend."""

    words: str
    amount: Decimal
    saves: bool


@dataclass(frozen=True, slots=True)
class Blend:
    """A recipe with everything that follows from it."""

    grade: str
    recipe: tuple[RecipeRow, ...]
    analysis: tuple[AnalysisRow, ...]
    slow_release_pct: float | None
    mass_lb: float
    volume_gal: float
    density_lb_per_gal: float
    cost: Decimal | None
    cost_per_gal: Decimal | None
    warnings: tuple[Warning, ...]

    @property
    def alerts(self) -> tuple[Warning, ...]:
        """What must be read before anything else."""
        return tuple(warning for warning in self.warnings if warning.severity != "info")

    @property
    def notes(self) -> tuple[Warning, ...]:
        return tuple(warning for warning in self.warnings if warning.severity == "info")

    @property
    def needs_jar_test(self) -> bool:
        return any(warning.code == "jar_test" for warning in self.warnings)

    @property
    def is_stopped(self) -> bool:
        """A recipe that breaks a rule may be looked at, never saved."""
        return any(warning.severity == "stop" for warning in self.warnings)


@dataclass(frozen=True, slots=True)
class ReachRow:
    """How far one wish could go while all the others hold."""

    words: str
    asked: str
    best: str


@dataclass(frozen=True, slots=True)
class Given:
    """One wish that gives way in an alternative; ``asked`` is empty where nothing was."""

    words: str
    asked: str
    to: str


@dataclass(frozen=True, slots=True)
class Card:
    """An alternative; ``take`` holds the fields to overtype, None if it cannot be typed.

    ``is_against_law`` where a limit of the law gives way, which nobody can take.
    """

    given: tuple[Given, ...]
    blend: Blend
    take: str | None
    is_against_law: bool


@dataclass(frozen=True, slots=True)
class WhyNot:
    """Out of reach, in words, with what could be had instead."""

    conflict: tuple[str, ...]
    reach: tuple[ReachRow, ...]
    cards: tuple[Card, ...]


@dataclass(frozen=True, slots=True)
class JarTest:
    """The procedure with each step's moment in words ("after 2 hours", empty: at once)."""

    title: str
    steps: tuple[tuple[str, str, str], ...]
    caution: str
    source: str


def jar_test() -> JarTest:
    """The published procedure behind every jar-test warning; steps as moment, text, mark."""
    facts = reference.jar_test()
    return JarTest(
        title=facts.title,
        steps=tuple(
            (_moment(step.wait_hours), step.text, str(step.source.mark)) for step in facts.steps
        ),
        caution=facts.caution,
        source=facts.caution_source.text,
    )


def _moment(wait_hours: float) -> str:
    if not wait_hours:
        return ""
    if wait_hours < 1:
        return f"After {wait_hours * 60:g} minutes:"
    return f"After {wait_hours:g} hours:"


def blend_of(answer: Mapping[str, Any], *, asked: Mapping[str, str], sees_cost: bool) -> Blend:
    """A solved answer of the contract (or one alternative of it) as rows."""
    totals = answer["totals"]
    return Blend(
        grade=grade_of(answer["analysis"]),
        recipe=recipe_rows(answer, with_costs=sees_cost),
        analysis=analysis_rows(answer, asked),
        slow_release_pct=answer["slow_release_pct"],
        mass_lb=totals["mass_lb"],
        volume_gal=totals["volume_gal"],
        density_lb_per_gal=totals["density_lb_per_gal"],
        cost=Decimal(totals["cost"]) if sees_cost else None,
        cost_per_gal=Decimal(totals["cost_per_gal"]) if sees_cost else None,
        warnings=warnings_of(answer["warnings"]),
    )


def warnings_of(found: Sequence[Mapping[str, str]]) -> tuple[Warning, ...]:
    """Findings of the contract, most severe first as they come."""
    return tuple(
        Warning(
            item["code"],
            item["severity"],
            _SEVERITY_WORDS[item["severity"]],
            item["message"],
            item["source"],
        )
        for item in found
    )


def asked_in_words(body: Mapping[str, Any]) -> dict[str, str]:
    """What was asked of each nutrient, to stand beside what was reached."""
    return {target["nutrient"]: range_words(target) for target in body.get("targets", [])}


def range_words(wish: Mapping[str, Any]) -> str:
    low, high = wish.get("min"), wish.get("max")
    if low is not None and high is not None:
        return f"{low:g}" if low == high else f"{low:g} to {high:g}"
    return f"at least {low:g}" if low is not None else f"at most {high:g}"


def wish_prices(formulation: Formulation, question: Question) -> Iterator[WishPrice]:
    """What one more percent (a tenth below one percent) of each binding wish costs per gallon."""
    answer = formulation.answer
    if not answer["totals"]:
        return
    density = exact(answer["totals"]["density_lb_per_gal"])
    for item in answer["sensitivity"]:
        place = question.places.get(item["wish"])
        per_unit = Decimal(item["cost_per_unit"])
        if place is None or not per_unit:
            continue
        small = place.unit == " %" and 0 < _number_of(item["wish"], place) < 1
        amount = money(per_unit * density * (_TENTH if small else 1))
        if amount:
            step = "0.1" if small else "1"
            yield WishPrice(_one_more(place, step), abs(amount), saves=amount < 0)


def _one_more(place: WishPlace, step: str) -> str:
    subject = place.words.removesuffix(" at least").removesuffix(" at most")
    if place.unit == " % of N":
        amount = f"{step} more point of slow release"
    else:
        amount = f"{step} % more {subject}"
    return amount[0].upper() + amount[1:] if place.words.endswith("least") else f"Allowing {amount}"


def _number_of(wish: str, place: WishPlace) -> float:
    """The number in a wish's name, which is the last word before its unit."""
    return float(wish.removesuffix(place.unit.rstrip()).split()[-1])


def why_not(formulation: Formulation, question: Question, *, sees_cost: bool) -> WhyNot:
    """Conflict, reach and alternatives in the page's own words."""
    result, found = formulation.result, formulation.answer["out_of_reach"]
    if not isinstance(result, OutOfReach):
        raise TypeError("Only an answer that is out of reach has reasons.")
    asked = {reach.wish: reach.asked for reach in result.reach}
    in_conflict = set(result.conflict)
    return WhyNot(
        conflict=tuple(_wish_words(name, question, asked.get(name)) for name in result.conflict),
        reach=tuple(
            _reach_row(reach, question) for reach in result.reach if reach.wish in in_conflict
        ),
        cards=tuple(
            _card(alternative, question, asked, sees_cost) for alternative in found["alternatives"]
        ),
    )


def _card(
    alternative: Mapping[str, Any],
    question: Question,
    asked: Mapping[str, float],
    sees_cost: bool,  # noqa: FBT001
) -> Card:
    relaxed = alternative["relaxed"]
    places = [question.places.get(item["wish"]) for item in relaxed]
    fields = [place.field for place in places if place is not None and place.field]
    take = None
    if len(fields) == len(relaxed):
        given_way = zip(fields, relaxed, strict=True)
        take = urlencode([(field, f"{item['to']:.10g}") for field, item in given_way])
    return Card(
        given=tuple(_given(item, question, asked.get(item["wish"])) for item in relaxed),
        blend=blend_of(alternative, asked=asked_in_words(question.body), sees_cost=sees_cost),
        take=take,
        is_against_law=any(place is not None and place.is_law for place in places),
    )


def _reach_row(reach: Reach, question: Question) -> ReachRow:
    words, unit = _words_of(reach.wish, question)
    best = "not alone" if reach.best is None else f"{reach.best:.4g}{unit}"
    return ReachRow(words, f"{reach.asked:.10g}{unit}", best)


def _given(item: Mapping[str, Any], question: Question, asked: float | None) -> Given:
    words, unit = _words_of(item["wish"], question)
    was = "" if asked is None else f"{asked:.10g}{unit}"
    return Given(words, was, f"{item['to']:.10g}{unit}")


def _words_of(wish: str, question: Question) -> tuple[str, str]:
    place = question.places.get(wish)
    return (place.words, place.unit) if place is not None else (wish, "")


def _wish_words(wish: str, question: Question, asked: float | None) -> str:
    """``total nitrogen at least 28 %``; facts of stocks and rules keep the engine's words."""
    place = question.places.get(wish)
    if place is None or asked is None:
        return wish
    return f"{place.words} {asked:g}{place.unit}"
