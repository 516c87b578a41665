"""What a rule pack says, as it is kept, and how what is shipped now differs from that.

Kept are the law's own figures and texts, not our words for them: other words are no other law, and
a rule that was only read again on another day is no other rule.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import MISSING, Field, fields
from datetime import date
from enum import Enum
from typing import Any, Final

from django.utils.text import Truncator
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy as _lazy

from formulas.engine.law import Duty, RulePack
from formulas.engine.law.rules import (
    Basis,
    Blackout,
    EstablishmentWait,
    GroundRule,
    LabelSentence,
    NitrogenPerApplication,
    NitrogenPerYear,
    Phosphorus,
    Rule,
    Setback,
    SlowShare,
    SlowStep,
)

#: ``{rule's code: {field: value}}``; ``KIND`` among the fields names the kind of the rule.
Said = dict[str, dict[str, Any]]
KIND: Final = "kind"
#: Of where a rule stands: what changes what it asks. A citation that moved is told too.
_OF_BASIS: Final = ("citation", "status", "applicator")
_KINDS: Final = {
    NitrogenPerApplication: _lazy("nitrogen at a time"),
    NitrogenPerYear: _lazy("nitrogen a year"),
    SlowShare: _lazy("slow-release share"),
    Phosphorus: _lazy("phosphorus"),
    Blackout: _lazy("closed season"),
    GroundRule: _lazy("ground and weather"),
    Setback: _lazy("distance from water"),
    EstablishmentWait: _lazy("wait after seeding or sodding"),
    LabelSentence: _lazy("label sentence"),
    Duty: _lazy("duty of the plant or applicator"),
}
_KIND_WORDS: Final = {kind.__name__: words for kind, words in _KINDS.items()}
_LB: Final = " lb/1,000 sq ft"
#: What a field is called, and the unit behind its figure. Rates and distances as the law has them.
WORDS: Final[Mapping[str, tuple[Any, str]]] = {
    "citation": (_lazy("where it stands"), ""),
    "status": (_lazy("standing"), ""),
    "applicator": (_lazy("whom it binds"), ""),
    "largest_total_lb": (_lazy("most in all"), _LB),
    "largest_readily_available_lb": (_lazy("most readily available"), _LB),
    "steps": (_lazy("more with slow release"), ""),
    "grass": (_lazy("grass"), ""),
    "enhanced_efficiency": (_lazy("enhanced efficiency"), ""),
    "largest_lb": (_lazy("most"), _LB),
    "by_grass": (_lazy("most by grass"), _LB),
    "smallest_pct": (_lazy("at least"), " %"),
    "soluble_slow": (_lazy("water-soluble slow nitrogen"), ""),
    "exempt_up_to_n_lb": (_lazy("exempt up to"), _LB),
    "exempt_applicator": (_lazy("who is exempt"), ""),
    "certain_above_n_lb": (_lazy("certain above"), _LB),
    "liquid_exempt_total_lb": (_lazy("liquids exempt up to, in all"), _LB),
    "liquid_exempt_readily_available_lb": (_lazy("liquids exempt up to, readily available"), _LB),
    "free_up_to_p2o5_pct": (_lazy("free up to P2O5"), " %"),
    "needs_reason": (_lazy("needs a reason"), ""),
    "soil_test": (_lazy("a soil test allows it"), ""),
    "soil_test_years": (_lazy("oldest soil test"), " years"),
    "new_lawn": (_lazy("a new lawn allows it"), ""),
    "repair": (_lazy("a repair allows it"), ""),
    "trained_golf": (_lazy("trained golf staff may"), ""),
    "largest_p2o5_pct": (_lazy("most P2O5"), " %"),
    "largest_p2o5_lb": (_lazy("most P2O5 at a time"), _LB),
    "largest_p2o5_lb_per_year": (_lazy("most P2O5 a year"), _LB),
    "starter_p2o5_lb": (_lazy("most P2O5 as a starter"), _LB),
    "other_exceptions": (_lazy("other exceptions"), ""),
    "first": (_lazy("first day"), ""),
    "last": (_lazy("last day"), ""),
    "nutrients": (_lazy("nutrients"), ""),
    "largest_n_lb": (_lazy("still allowed"), _LB),
    "new_lawn_exempt": (_lazy("new lawns are exempt"), ""),
    "forbidden": (_lazy("forbidden on"), ""),
    "feet": (_lazy("distance"), " ft"),
    "targeted_feet": (_lazy("distance with targeted spray"), " ft"),
    "natural_buffer_feet": (_lazy("distance with a natural buffer"), " ft"),
    "days": (_lazy("days"), ""),
    "sentence": (_lazy("words"), ""),
    "topic": (_lazy("about"), ""),
    "text": (_lazy("words"), ""),
}
#: A sentence of a label or a duty may be long; a notice is short.
_MOST_OF_A_TEXT: Final = 90
_DAYS: Final = frozenset({"first", "last"})


def said_by(pack: RulePack) -> Said:
    """What the pack's rules and duties say, without the days they were read on."""
    return {rule.basis.code: dict(_said(rule)) for rule in (*pack.rules, *pack.duties)}


def differences(before: Said, pack: RulePack) -> tuple[str, ...]:
    """What the pack says otherwise, such as ``nitrogen at a time, most in all: 0.9 → 1 lb``."""
    found = []
    rules = {rule.basis.code: rule for rule in (*pack.rules, *pack.duties)}
    for code, rule in rules.items():
        now, title = dict(_said(rule)), _title(type(rule).__name__)
        if code not in before or before[code].get(KIND) != now.pop(KIND):
            found.append(_("{rule} is new ({where})").format(rule=title, where=now["citation"]))
            continue
        for name, value in now.items():
            old = before[code].get(name, _default(rule, name))
            if old != value:
                label, unit = WORDS[name]
                unit = unit if isinstance(value, float) or isinstance(old, float) else ""
                found.append(
                    f"{title}, {label}: {_written(name, old)} → {_written(name, value)}{unit}"
                )
    for code in before.keys() - rules.keys():
        gone = _title(str(before[code].get(KIND, "")))
        found.append(_("{rule} is no longer on file").format(rule=gone))
    return tuple(found)


def title_of(rule: Rule | Duty) -> str:
    """What kind of rule it is, in words."""
    return _title(type(rule).__name__)


def figures_of(rule: Rule | Duty) -> tuple[tuple[str, str], ...]:
    """What the rule says, each thing with its name and its unit; what it leaves open is not said.

    Texts stand whole: they are the law's own words, or ours for them where the pack says so.
    """
    found = []
    for field in _own_fields(rule):
        value = _kept(getattr(rule, field.name))
        if value in (None, "", [], False):
            continue
        label, unit = WORDS[field.name]
        if isinstance(rule, NitrogenPerApplication) and field.name == "steps":
            words, unit = "; ".join(map(_step_words, rule.steps)), ""
        elif isinstance(value, str):
            words, unit = value, ""
        else:
            words = _written(field.name, value)
        with_unit = isinstance(value, float) or field.name == "by_grass"
        found.append((str(label), words.replace("_", " ") + (unit if with_unit else "")))
    return tuple(found)


def _step_words(step: SlowStep) -> str:
    words = _("from {pct} % slow release {lb}").format(
        pct=f"{step.from_slow_pct:g}", lb=f"{step.largest_total_lb:g}{_LB}"
    )
    months = ", ".join(f"{date(2000, month, 1):%b}" for month in sorted(step.months))
    return f"{words} ({months})" if months else words


def _said(rule: Rule | Duty) -> Iterator[tuple[str, Any]]:
    yield KIND, type(rule).__name__
    for name in _OF_BASIS:
        yield name, _kept(getattr(rule.basis, name))
    for field in _own_fields(rule):
        yield field.name, _kept(getattr(rule, field.name))


def _own_fields(rule: Rule | Duty) -> list[Field[Any]]:
    return [field for field in fields(rule) if field.name != "basis"]


def _kept(value: Any) -> Any:
    """As JSON gives it back, so that what was kept and what is compare equal."""
    if isinstance(value, Enum):
        return str(value.value)
    if isinstance(value, frozenset):
        return sorted(_kept(each) for each in value)
    if isinstance(value, tuple | list):
        return [_kept(each) for each in value]
    if hasattr(value, "__dataclass_fields__"):
        return [_kept(getattr(value, field.name)) for field in fields(value)]
    return float(value) if isinstance(value, int) and not isinstance(value, bool) else value


def _default(rule: Rule | Duty, name: str) -> Any:
    """What a rule kept before the field was there said of it."""
    of = [*_own_fields(rule), *(field for field in fields(Basis) if field.name in _OF_BASIS)]
    default = next(field.default for field in of if field.name == name)
    return None if default is MISSING else _kept(default)


def _title(kind: str) -> str:
    return str(_KIND_WORDS.get(kind, _("rule")))


def _written(name: str, value: Any) -> str:
    if value in (None, "", []):
        return _("nothing")
    if isinstance(value, bool):
        return _("yes") if value else _("no")
    if name in _DAYS:
        month, day = (int(each) for each in value)
        return f"{date(2000, month, day):%b} {day}"
    if isinstance(value, list):
        return ", ".join(
            " ".join(_written("", part) for part in each)
            if isinstance(each, list)
            else _written("", each)
            for each in value
        )
    if isinstance(value, float):
        return f"{value:g}"
    return Truncator(str(value)).chars(_MOST_OF_A_TEXT)
