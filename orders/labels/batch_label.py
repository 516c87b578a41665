"""The label of one part of a batch: what its contents allow, what people changed, what to check.

Page and papers read the same values. Plan and charges are written once; the label rules, metals
limits and rule packs are those this software ships, so that a corrected rule shows at the next
look.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import date
from decimal import Decimal
from typing import Final

from formulas.contracts.label_drafts import guaranteed, metal_checks
from formulas.engine import law
from formulas.engine.composition import SLOW_FORMS, content_pct
from formulas.engine.label import guarantee
from formulas.engine.label.changes import SLOW_CLAIM, SLOW_CLAIM_NAME
from formulas.engine.label.grade_rules import GradeRule, grade_rule
from formulas.engine.label.metals import MetalCheck, MetalRule, MetalVerdict
from formulas.engine.label.printed_figures import PRECISION_PCT, text
from formulas.engine.label.rules import PARTS
from formulas.engine.law.rules import LabelSentence
from formulas.reference.rule_packs import rule_packs
from orders.frozen.load_plan import LoadPlan
from orders.labels.batch_contents import (
    Contents,
    charged_contents,
    planned_contents,
    with_metals,
)
from orders.labels.label_basis import chelated, delivered_on, label_basis, least_chelated
from orders.models import BatchPart, LabelChange, PlantProfile
from orders.production.made_record import MadeRecord, made_records
from orders.production.sold_as import (
    SoldAs,
    applicable,
    in_force,
    promise_basis,
    sold_as,
)

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
class MissedLine:
    """A printed line that a load does not keep; ``held_pct`` is None where nothing is known."""

    label: str
    printed: str
    held_pct: float | None


@dataclass(frozen=True, slots=True)
class BatchLabel:
    """``allowed`` is what promise or analysis allow, ``draft`` what ``changes`` left of it.

    ``sold`` are its figures as every paper has them. ``contents`` is what the load holds and
    ``expected`` the percent by weight of every printed key in it, parts included; ``printed`` the
    contents that sources, density and directions on the label follow. ``missed`` are the lines
    that what was charged does not keep: then the guarantees follow the charged weights. ``void``
    are changes by hand that no longer lower anything. ``plant`` guarantees it; ``delivered`` is
    the day it left, None while it is here.
    """

    allowed: guarantee.LabelDraft
    draft: guarantee.LabelDraft
    sold: SoldAs
    changes: tuple[LabelChange, ...]
    void: tuple[guarantee.LabelChange, ...]
    contents: Contents
    printed: Contents
    missed: tuple[MissedLine, ...]
    expected: Mapping[str, float]
    rule: GradeRule
    has_state_rule: bool
    state: str
    packs: law.ChosenPacks
    to_check: tuple[ToCheck, ...]
    metals: tuple[tuple[MetalRule, MetalCheck], ...]
    packages: int
    plant: PlantProfile
    delivered: date | None

    @property
    def metals_open(self) -> tuple[str, ...]:
        """Names of metals nobody can pass: a limit applies and a figure is missing."""
        return tuple(
            dict.fromkeys(
                check.name for _, check in self.metals if check.verdict is MetalVerdict.NOT_ASSESSED
            )
        )


def batch_label(part: BatchPart) -> BatchLabel:
    """The label of one package of a part of the load (in bulk: of the whole part).

    It prints the promise of the plan, the same for every load of the revision, and stands
    unchanged while what was charged keeps every printed line; else the guarantees follow the
    weights. The label of a plan of before there were tolerances prints the plan's analysis, with
    sources and density of what was charged.
    """
    return batch_labels([part])[part.pk]


def batch_labels(parts: Sequence[BatchPart]) -> dict[int, BatchLabel]:
    """``batch_label`` of many parts by their ids, in the queries of one.

    The parts as ``with_label`` fetches them.
    """
    records = made_records(part.batch for part in parts)
    with_metals(records.values())
    plant, delivered = PlantProfile.load(), delivered_on(parts)
    return {
        part.pk: _label(
            part, records[part.batch_id], plant, delivered.get(part.order_line.order_id)
        )
        for part in parts
    }


def _label(
    part: BatchPart, record: MadeRecord, plant: PlantProfile, delivered: date | None
) -> BatchLabel:
    planned, charged = planned_contents(part.batch), charged_contents(record)
    contents = charged or planned
    sold = sold_as(record, part)
    printed = contents if charged is None else _still_printed(record, planned, charged)
    promise = replace(sold, basis=promise_basis(part), follows_weights=False)
    least = _least_chelated(record.plan, planned)
    basis = label_basis(promise, printed, least, plant=plant, delivered=delivered)
    allowed = guarantee.draft_label(basis)
    missed = () if charged is None else tuple(_missed(allowed, _expected(charged)))
    if missed:
        printed = contents
        own = chelated(contents)
        basis = label_basis(sold, contents, own, plant=plant, delivered=delivered)
        allowed = guarantee.draft_label(basis)
    changes = tuple(part.label_changes.all())
    asked, void = applicable(allowed, in_force(changes))
    draft = guarantee.with_changes(allowed, asked) if asked else allowed
    ship_to = part.consignment.ship_to
    packs = law.choose_packs(rule_packs(), law.ShipTo(ship_to.state, ship_to.county, ship_to.place))
    return BatchLabel(
        allowed=allowed,
        draft=draft,
        sold=sold,
        changes=changes,
        void=void,
        contents=contents,
        printed=printed,
        missed=missed,
        expected=_expected(contents),
        rule=grade_rule(basis.jurisdiction),
        has_state_rule=basis.jurisdiction is not None,
        state=ship_to.state,
        packs=packs,
        to_check=tuple(_to_check(packs)),
        metals=metal_checks(guaranteed(draft), contents.metals()),
        packages=part.package_count,
        plant=plant,
        delivered=delivered,
    )


def _still_printed(record: MadeRecord, planned: Contents, charged: Contents) -> Contents:
    """The contents a label goes on printing: the plan's, as long as those are the stocks in it.

    Another set of stocks has other sources. The density is the record's: where it was read, net
    weight and rates follow the reading.
    """
    same = {each.code for each in planned.stocks} == {each.code for each in charged.stocks}
    if not (same and record.plan.has_tolerances):
        return charged
    return replace(
        planned,
        density_lb_per_gal=charged.density_lb_per_gal,
        temperature_f=charged.temperature_f,
    )


def _least_chelated(plan: LoadPlan, planned: Contents) -> dict[str, float]:
    return least_chelated(plan, planned) if plan.has_tolerances else chelated(planned)


def printed_lines(draft: guarantee.LabelDraft) -> dict[str, tuple[str, Decimal]]:
    """Name and figure of every line that can be changed, by key, the slow-release claim last."""
    lines: tuple[guarantee.Guarantee | guarantee.OtherIngredient, ...] = (
        *draft.guarantees,
        *draft.other_ingredients,
    )
    found = {line.key: (line.label, line.pct) for line in lines}
    if draft.slow_release_claim_pct is not None:
        found[SLOW_CLAIM] = (SLOW_CLAIM_NAME, draft.slow_release_claim_pct)
    return found


def _expected(contents: Contents) -> dict[str, float]:
    return {
        **contents.analysis,
        **{f"{key}{PARTS[1][0]}": pct for key, pct in chelated(contents).items()},
        SLOW_CLAIM: sum(content_pct(contents.analysis, form) for form in SLOW_FORMS),
    }


def _missed(draft: guarantee.LabelDraft, expected: Mapping[str, float]) -> Iterator[MissedLine]:
    """Every printed figure that is not true; a line that nothing is known of is not."""
    for key, (label, pct) in printed_lines(draft).items():
        held = expected.get(key)
        if float(pct) > (held or 0.0) + PRECISION_PCT:
            yield MissedLine(label, f"{text(pct)}%", held)


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
