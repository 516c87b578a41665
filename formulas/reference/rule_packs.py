"""The rule packs: one TOML file a jurisdiction, read strictly into ``engine.law`` values.

A pack without citation, address, date or status is refused, and so is a rule that calls itself
active although its figure was not read in the law's own text.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import dataclass
from datetime import date
from functools import cache
from pathlib import Path
from typing import Final

from formulas.engine.law import GRASSES, Duty, DutyTopic, RulePack, Status
from formulas.engine.law.rules import (
    P_PER_P2O5,
    Applicator,
    Basis,
    Blackout,
    EstablishmentWait,
    Evidence,
    Ground,
    GroundRule,
    LabelSentence,
    NitrogenPerApplication,
    NitrogenPerYear,
    Phosphorus,
    Rule,
    Setback,
    SlowShare,
    SlowStep,
    SolubleSlow,
)
from formulas.reference.reading import ReferenceDataError, Row, load

PACKS_DIRECTORY: Final = Path(__file__).parent / "rule_packs"
#: Pounds per 1,000 sq ft that a law can mean; percent; feet.
_LB: Final = (0.0, 20.0)
_PCT: Final = (0.0, 100.0)
_FT: Final = (0.0, 1000.0)
_NUTRIENTS: Final = frozenset({"N", "P2O5"})


@dataclass(frozen=True, slots=True)
class _Head:
    """What the rules of a file share."""

    jurisdiction: str
    citation: str
    url: str
    date_checked: date
    text_as_of: str
    check_with: str


@cache
def rule_packs(directory: Path = PACKS_DIRECTORY) -> tuple[RulePack, ...]:
    """All packs, by state, the state's own before local ones; raises ``ReferenceDataError``."""
    packs = [_pack(path) for path in sorted(directory.glob("*.toml"))]
    codes: set[str] = set()
    for pack in packs:
        for code in (pack.code, *(r.basis.code for r in (*pack.rules, *pack.duties))):
            if code in codes:
                raise ReferenceDataError(f"{pack.code}: {code} stands twice")
            codes.add(code)
    return tuple(sorted(packs, key=lambda pack: (pack.state, pack.is_local, pack.jurisdiction)))


def _pack(path: Path) -> RulePack:
    row = Row(path.name, "pack", dict(load(path)))
    head = _Head(
        row.text("jurisdiction"),
        row.text("citation"),
        _address(row),
        _day(row, "date_checked"),
        row.optional_text("text_as_of"),
        row.text("check_with"),
    )
    rules: list[Rule] = []
    for kind, read in _KINDS.items():
        for rule_row in row.tables(kind):
            rules.append(read(rule_row, _basis(rule_row, head)))
            rule_row.done()
    pack = RulePack(
        code=row.text("code"),
        jurisdiction=head.jurisdiction,
        state=_state(row),
        county=row.optional_text("county"),
        place=row.optional_text("place"),
        status=row.choice("status", Status),
        citation=head.citation,
        url=head.url,
        date_checked=head.date_checked,
        text_as_of=head.text_as_of,
        check_with=head.check_with,
        note=row.optional_text("note"),
        rules=tuple(rules),
        duties=tuple(_duties(row, head)),
    )
    row.done()
    _consistent(row, pack)
    return pack


def _consistent(row: Row, pack: RulePack) -> None:
    if not pack.rules and not pack.duties:
        raise row.error("rules", "are missing")
    known = {part.basis.status for part in (*pack.rules, *pack.duties)}
    if (pack.status is Status.ACTIVE) != (Status.ACTIVE in known):
        raise row.error("status", f"is {pack.status}, but no rule says so")
    if pack.place and not pack.county:
        raise row.error("county", "is missing for a place")


def _state(row: Row) -> str:
    state = row.text("state")
    if len(state) != 2 or not state.isupper():
        raise row.error("state", f"is not a postal code: {state!r}")
    return state


def _address(row: Row) -> str:
    url = row.text("url")
    if not url.startswith(("https://", "http://")):
        raise row.error("url", f"is not an address: {url!r}")
    return url


def _day(row: Row, key: str) -> date:
    text = row.text(key)
    try:
        return date.fromisoformat(text)
    except ValueError as error:
        raise row.error(key, f"is not a date: {text!r}") from error


def _basis(row: Row, head: _Head) -> Basis:
    """Where the rule stands: its own keys, else the file's; status and evidence always its own."""
    status, evidence = row.choice("status", Status), row.choice("evidence", Evidence)
    if (status is Status.ACTIVE) != (evidence is Evidence.CODE_TEXT):
        raise row.error("status", f"is {status} on evidence {evidence.value!r}")
    note = row.optional_text("note")
    if status is Status.UNVERIFIED and not note:
        raise row.error("note", "must say what is doubtful about an unverified rule")
    return Basis(
        code=row.text("code"),
        jurisdiction=head.jurisdiction,
        citation=row.optional_text("citation") or head.citation,
        url=_address(row) if "url" in row.values else head.url,
        status=status,
        evidence=evidence,
        date_checked=_day(row, "date_checked")
        if "date_checked" in row.values
        else head.date_checked,
        text_as_of=row.optional_text("text_as_of") or head.text_as_of,
        check_with=head.check_with,
        note=note,
        applicator=_applicator(row, "applicator"),
    )


def _applicator(row: Row, key: str) -> Applicator:
    return row.choice(key, Applicator) if key in row.values else Applicator.ANYONE


def _flag(row: Row, key: str, *, default: bool = False) -> bool:
    value = row.values.pop(key, default)
    if not isinstance(value, bool):
        raise row.error(key, f"is not true or false: {value!r}")
    return value


def _nitrogen_per_application(row: Row, basis: Basis) -> Rule:
    steps = []
    for step in row.tables("steps"):
        months = frozenset(_months(step))
        steps.append(
            SlowStep(step.number("from_slow_pct", *_PCT), step.number("total_lb", *_LB), months)
        )
        step.done()
    rule = NitrogenPerApplication(
        basis,
        row.choice("soluble_slow", SolubleSlow),
        row.optional_number("total_lb", *_LB),
        row.optional_number("readily_available_lb", *_LB),
        tuple(steps),
        _grasses(row),
        row.optional_text("enhanced_efficiency"),
    )
    if rule.largest_total_lb is None and rule.largest_readily_available_lb is None:
        raise row.error("total_lb", "or readily_available_lb is missing")
    if any(step.largest_total_lb <= (rule.largest_total_lb or 0.0) for step in steps):
        raise row.error("steps", "must allow more than total_lb")
    return rule


def _months(row: Row) -> Iterator[int]:
    names = ("jan", "feb", "mar", "apr", "may", "jun", "jul", "aug", "sep", "oct", "nov", "dec")
    for name in row.texts("months") if "months" in row.values else ():
        if name not in names:
            raise row.error("months", f"names an unknown month: {name!r}")
        yield names.index(name) + 1


def _grasses(row: Row) -> frozenset[str]:
    named = row.texts("grass") if "grass" in row.values else ()
    for grass in named:
        if grass not in GRASSES:
            raise row.error("grass", f"names an unknown grass: {grass!r}")
    return frozenset(named)


def _nitrogen_per_year(row: Row, basis: Basis) -> Rule:
    by_grass: list[tuple[str, float]] = []
    table = row.optional_table("by_grass")
    if table is not None:
        for grass in list(table.values):
            if grass not in GRASSES:
                raise table.error(grass, "is an unknown grass")
            by_grass.append((grass, table.number(grass, *_LB)))
    total = row.optional_number("total_lb", *_LB)
    if (total is None) == (not by_grass):
        raise row.error("total_lb", "or by_grass must be given, not both")
    return NitrogenPerYear(basis, total, tuple(by_grass))


def _slow_share(row: Row, basis: Basis) -> Rule:
    return SlowShare(
        basis,
        row.number("smallest_pct", *_PCT),
        row.choice("soluble_slow", SolubleSlow),
        row.optional_number("exempt_up_to_n_lb", *_LB),
        _applicator(row, "exempt_applicator"),
        row.optional_number("certain_above_n_lb", *_LB),
        row.optional_number("liquid_exempt_total_lb", *_LB),
        row.optional_number("liquid_exempt_readily_available_lb", *_LB),
    )


def _phosphorus(row: Row, basis: Basis) -> Rule:
    unit = row.optional_text("rates_in") or "P2O5"
    if unit not in {"P", "P2O5"}:
        raise row.error("rates_in", f"is neither P nor P2O5: {unit!r}")

    def rate(key: str) -> float | None:
        lb = row.optional_number(key, *_LB)
        return lb / P_PER_P2O5 if lb is not None and unit == "P" else lb

    rule = Phosphorus(
        basis,
        row.optional_number("free_up_to_p2o5_pct", *_PCT) or 0.0,
        _flag(row, "needs_reason", default=True),
        _flag(row, "soil_test"),
        row.optional_number("soil_test_years", 0.0, 10.0) or 0.0,
        _flag(row, "new_lawn"),
        _flag(row, "repair"),
        _flag(row, "trained_golf"),
        row.optional_number("largest_p2o5_pct", *_PCT),
        rate("per_application_lb"),
        rate("per_year_lb"),
        rate("starter_lb"),
        row.optional_text("other_exceptions"),
    )
    if not rule.needs_reason and rule.largest_p2o5_lb is None:
        raise row.error("needs_reason", "is false, yet no rate is given")
    return rule


def _month_day(row: Row, key: str) -> tuple[int, int]:
    text = row.text(key)
    try:
        day = date.fromisoformat(f"2000-{text}")
    except ValueError as error:
        raise row.error(key, f"is not a month and day: {text!r}") from error
    return (day.month, day.day)


def _nutrients(row: Row) -> frozenset[str]:
    named = frozenset(row.texts("nutrients")) if "nutrients" in row.values else _NUTRIENTS
    if not named or not named <= _NUTRIENTS:
        raise row.error("nutrients", "must be of N and P2O5")
    return named


def _blackout(row: Row, basis: Basis) -> Rule:
    return Blackout(
        basis,
        _month_day(row, "first"),
        _month_day(row, "last"),
        _nutrients(row),
        row.optional_number("largest_n_lb", *_LB) or 0.0,
        _flag(row, "new_lawn_exempt"),
    )


def _ground(row: Row, basis: Basis) -> Rule:
    named = row.texts("forbidden")
    try:
        forbidden = tuple(Ground(name) for name in named)
    except ValueError as error:
        raise row.error("forbidden", f"is unknown: {error}") from error
    if not forbidden:
        raise row.error("forbidden", "is empty")
    return GroundRule(basis, forbidden, _nutrients(row))


def _setback(row: Row, basis: Basis) -> Rule:
    return Setback(
        basis,
        row.number("feet", *_FT),
        row.optional_number("targeted_feet", *_FT),
        row.optional_number("natural_buffer_feet", *_FT),
        _flag(row, "new_lawn_exempt"),
        _nutrients(row),
    )


def _establishment(row: Row, basis: Basis) -> Rule:
    return EstablishmentWait(basis, row.number("days", 1.0, 365.0))


def _label_sentence(row: Row, basis: Basis) -> Rule:
    return LabelSentence(basis, row.text("sentence"))


_KINDS: Final[dict[str, Callable[[Row, Basis], Rule]]] = {
    "nitrogen_per_application": _nitrogen_per_application,
    "nitrogen_per_year": _nitrogen_per_year,
    "slow_share": _slow_share,
    "phosphorus": _phosphorus,
    "blackout": _blackout,
    "ground": _ground,
    "setback": _setback,
    "establishment": _establishment,
    "label_sentence": _label_sentence,
}


def _duties(row: Row, head: _Head) -> Iterator[Duty]:
    for duty in row.tables("duty"):
        yield Duty(_basis(duty, head), duty.choice("topic", DutyTopic), duty.text("text"))
        duty.done()
