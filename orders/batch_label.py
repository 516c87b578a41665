"""The label of one part of a batch: what its plan allows, what people changed, what to check.

Page and papers read the same values. The plan is frozen; the label rules, metals limits and
rule packs are those this software ships, so that a corrected rule shows at the next look.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass
from datetime import date
from decimal import Decimal
from typing import Any, Final

from django.utils import timezone

from formulas.engine import guarantee, law
from formulas.engine.composition import OTHER_INGREDIENTS, SLOW_FORMS, content_pct
from formulas.engine.grade_rules import GRADE_RULES, GradeRule, grade_rule
from formulas.engine.label_rules import PARTS, Kind
from formulas.engine.label_sources import chelated_parts, label_sources
from formulas.engine.law.rules import LabelSentence
from formulas.engine.metals import METALS, MetalCheck, MetalRule, MetalVerdict, blend_metals
from formulas.engine.problem import Stock
from formulas.engine.result import Share
from formulas.label_drafts import guaranteed, metal_checks
from formulas.reference.rule_packs import rule_packs
from orders.models import BatchPart, LabelChange, PlantProfile

SLOW_CLAIM: Final = guarantee.SLOW_CLAIM
#: What a reviewer of a label looks through; reports of tons sold are the office's matter.
_LABEL_DUTIES: Final = frozenset(law.DutyTopic) - {law.DutyTopic.TONNAGE}


@dataclass(frozen=True, slots=True)
class ToCheck:
    """One entry of the reviewer's list: a duty of the law, or a sentence it prescribes."""

    topic: str
    text: str
    citation: str
    is_verified: bool
    is_sentence: bool = False


@dataclass(frozen=True, slots=True)
class BatchLabel:
    """``allowed`` is what the analysis allows, ``draft`` what is left after ``changes``.

    ``expected`` holds the expected percent by weight of every printed key, parts included.
    """

    allowed: guarantee.LabelDraft
    draft: guarantee.LabelDraft
    changes: tuple[LabelChange, ...]
    expected: Mapping[str, float]
    rule: GradeRule
    has_state_rule: bool
    state: str
    packs: law.ChosenPacks
    to_check: tuple[ToCheck, ...]
    metals: tuple[tuple[MetalRule, MetalCheck], ...]
    packages: int

    @property
    def metals_open(self) -> tuple[str, ...]:
        """Names of metals nobody can pass: a limit applies and a figure is missing."""
        return tuple(
            dict.fromkeys(
                check.name for _, check in self.metals if check.verdict is MetalVerdict.NOT_ASSESSED
            )
        )


def batch_label(part: BatchPart) -> BatchLabel:
    """The label of one package of a part of the load (in bulk: of the whole part)."""
    plan, ship_to = part.batch.plan, part.delivery["ship_to"]
    changes = tuple(part.label_changes.all())
    basis = _basis(part)
    allowed = guarantee.draft_label(basis)
    asked = in_force(changes)
    draft = guarantee.with_changes(allowed, asked) if asked else allowed
    packs = law.choose_packs(rule_packs(), law.ShipTo(**ship_to))
    metals = blend_metals(_shares(plan), {s["code"]: _ppm(s) for s in plan["steps"]})
    return BatchLabel(
        allowed=allowed,
        draft=draft,
        changes=changes,
        expected={
            **plan["analysis"],
            **{f"{key}{PARTS[1][0]}": pct for key, pct in basis.chelated.items()},
            SLOW_CLAIM: sum(content_pct(plan["analysis"], form) for form in SLOW_FORMS),
        },
        rule=grade_rule(basis.jurisdiction),
        has_state_rule=basis.jurisdiction is not None,
        state=ship_to["state"],
        packs=packs,
        to_check=tuple(_to_check(packs)),
        metals=metal_checks(guaranteed(draft), metals),
        packages=part.package_count,
    )


def in_force(changes: Iterable[LabelChange]) -> tuple[guarantee.LabelChange, ...]:
    """The newest change of each line, oldest first; a line that was put back has none."""
    newest: dict[str, guarantee.LabelChange] = {}
    for change in changes:
        newest.pop(change.key, None)
        if change.action != LabelChange.Action.RESTORE:
            newest[change.key] = guarantee.LabelChange(change.key, change.to_pct, change.why)
    return tuple(newest.values())


def printed_lines(draft: guarantee.LabelDraft) -> dict[str, tuple[str, Decimal]]:
    """Name and figure of every line that can be changed, by key, the slow-release claim last."""
    lines: tuple[guarantee.Guarantee | guarantee.OtherIngredient, ...] = (
        *draft.guarantees,
        *draft.other_ingredients,
    )
    found = {line.key: (line.label, line.pct) for line in lines}
    if draft.slow_release_statement is not None:
        pct = Decimal(draft.slow_release_statement.split("%", 1)[0])
        found[SLOW_CLAIM] = ("Slow-release claim", pct)
    return found


def _basis(part: BatchPart) -> guarantee.LabelBasis:
    plan = part.batch.plan
    plant = PlantProfile.load()
    state, delivered = part.delivery["ship_to"]["state"], delivered_on(part)
    # The total follows from the nitrogen forms.
    analysis = {key: pct for key, pct in plan["analysis"].items() if key != "N"}
    stocks = {step["code"]: _stock(step) for step in plan["steps"]}
    chelated = chelated_parts(_shares(plan), stocks)
    return guarantee.LabelBasis(
        analysis=analysis,
        kind=Kind.SPECIALTY,
        sources=(*_nutrient_sources(plan, stocks), *_other_sources(plan)),
        density_lb_per_gal=plan["density_lb_per_gal"],
        volume_gal=part.delivery["volume_gal"] / part.package_count,
        # The plan's analysis is rounded: a part must not exceed its whole by that.
        chelated={key: min(pct, analysis.get(key, 0.0)) for key, pct in chelated.items()},
        jurisdiction=state if state in GRADE_RULES else None,
        particulars=guarantee.Particulars(
            lot=part.batch.number,
            guarantor=f"{plant.name}, {plant.address}",
            purchaser=part.delivery["customer_name"],
            delivered_on=None if delivered is None else delivered.isoformat(),
        ),
    )


def delivered_on(part: BatchPart) -> date | None:
    """The day the part's order left; None while it is here."""
    order = part.order_line.order
    shipped = order.events.filter(to_status=order.Status.SHIPPED).order_by("pk").last()
    return None if shipped is None else timezone.localdate(shipped.at)


def _shares(plan: Mapping[str, Any]) -> tuple[Share, ...]:
    return tuple(Share(step["code"], step["pct"]) for step in plan["steps"])


def _stock(step: Mapping[str, Any]) -> Stock:
    """The stock of a step; what has an origin of its own is not ascribed to nutrient sources."""
    apart = OTHER_INGREDIENTS if step["other_origin"] else ()
    return Stock(
        code=step["code"],
        name=step["name"],
        density_lb_per_gal=step["density_lb_per_gal"],
        cost_per_lb=0.0,
        analysis={key: pct for key, pct in step["analysis"].items() if key not in apart},
        traits=frozenset(step["traits"]),
    )


def _nutrient_sources(
    plan: Mapping[str, Any], stocks: Mapping[str, Stock]
) -> tuple[guarantee.LabelSource, ...]:
    terms = {step["code"]: _terms(step["derived_from"]) for step in plan["steps"]}
    return label_sources(_shares(plan), stocks, terms)


def _other_sources(plan: Mapping[str, Any]) -> Iterator[guarantee.LabelSource]:
    """What the ingredients that are no plant nutrient come from."""
    for step in plan["steps"]:
        supplies = {
            key: pct * step["pct"] / 100
            for key, pct in step["analysis"].items()
            if key in OTHER_INGREDIENTS
        }
        for term in _terms(step["other_origin"]) if supplies else ():
            yield guarantee.LabelSource(term, supplies, share_pct=step["pct"])


def _terms(text: str) -> tuple[str, ...]:
    return tuple(term.strip() for term in text.split(",") if term.strip())


def _ppm(step: Mapping[str, Any]) -> dict[str, float]:
    return {metal: step["metals"][metal]["ppm"] for metal in METALS if metal in step["metals"]}


def _to_check(packs: law.ChosenPacks) -> Iterator[ToCheck]:
    for pack in packs.packs:
        for rule in pack.rules:
            if isinstance(rule, LabelSentence):
                yield _entry(law.Topic.LABEL_SENTENCE, rule.sentence, rule.basis, is_sentence=True)
    for duty in law.duties(packs.packs):
        if duty.topic in _LABEL_DUTIES:
            yield _entry(duty.topic, duty.text, duty.basis)


def _entry(topic: str, text: str, basis: law.Basis, *, is_sentence: bool = False) -> ToCheck:
    return ToCheck(
        topic=f"{basis.jurisdiction}, {topic}",
        text=text,
        citation=basis.citation,
        is_verified=basis.status is law.Status.ACTIVE,
        is_sentence=is_sentence,
    )
