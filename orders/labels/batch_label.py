"""The label of one part of a batch: what its contents allow, what people changed, what to check.

Page and papers read the same values. Plan and charges are written once; the label rules, metals
limits and rule packs are those this software ships, so that a corrected rule shows at the next
look.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass
from datetime import date
from decimal import Decimal
from typing import Final

from django.utils import timezone

from formulas.contracts.label_drafts import guaranteed, metal_checks
from formulas.engine import law
from formulas.engine.composition import OTHER_INGREDIENTS, SLOW_FORMS, content_pct
from formulas.engine.label import guarantee
from formulas.engine.label.changes import SLOW_CLAIM, SLOW_CLAIM_NAME
from formulas.engine.label.grade_rules import GRADE_RULES, GradeRule, grade_rule
from formulas.engine.label.metals import MetalCheck, MetalRule, MetalVerdict, blend_metals
from formulas.engine.label.rules import PARTS, Kind
from formulas.engine.label.sources import chelated_parts, label_sources
from formulas.engine.law.rules import LabelSentence
from formulas.engine.problem import BadProblem
from formulas.reference.rule_packs import rule_packs
from orders.labels.batch_contents import Contents, charged_contents, planned_contents
from orders.models import BatchPart, LabelChange, PlantProfile

#: Differences of decimal figures carried as floats.
_NOISE_PCT: Final = 1e-9
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

    ``expected`` holds the percent by weight of every printed key in ``contents``, parts
    included. ``is_true_of_plan`` is false when what was charged holds less than a line of the
    plan's label says. ``void`` are changes by hand that no longer lower anything.
    """

    allowed: guarantee.LabelDraft
    draft: guarantee.LabelDraft
    changes: tuple[LabelChange, ...]
    void: tuple[guarantee.LabelChange, ...]
    contents: Contents
    is_true_of_plan: bool
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
    """The label of one package of a part of the load (in bulk: of the whole part).

    A load that is charged keeps the guarantees of its plan while every one of them is true of
    what was weighed; else they follow the weights. Sources, metals and net contents follow the
    weights in any case.
    """
    planned, charged = planned_contents(part.batch), charged_contents(part.batch)
    contents = charged or planned
    basis = _basis(part, contents, planned.analysis, _chelated(planned))
    allowed = guarantee.draft_label(basis)
    is_true = charged is None or _holds(allowed, _expected(charged))
    if not is_true:
        basis = _basis(part, contents, contents.analysis, _chelated(contents))
        allowed = guarantee.draft_label(basis)
    changes = tuple(part.label_changes.all())
    asked, void = _applicable(allowed, in_force(changes))
    draft = guarantee.with_changes(allowed, asked) if asked else allowed
    ship_to = part.consignment.ship_to
    packs = law.choose_packs(rule_packs(), law.ShipTo(ship_to.state, ship_to.county, ship_to.place))
    metals = blend_metals(contents.shares, {each.code: each.ppm for each in contents.stocks})
    return BatchLabel(
        allowed=allowed,
        draft=draft,
        changes=changes,
        void=void,
        contents=contents,
        is_true_of_plan=is_true,
        expected=_expected(contents),
        rule=grade_rule(basis.jurisdiction),
        has_state_rule=basis.jurisdiction is not None,
        state=ship_to.state,
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
    if draft.slow_release_claim_pct is not None:
        found[SLOW_CLAIM] = (SLOW_CLAIM_NAME, draft.slow_release_claim_pct)
    return found


def _basis(
    part: BatchPart,
    contents: Contents,
    promised: Mapping[str, float],
    chelated: Mapping[str, float],
) -> guarantee.LabelBasis:
    """``promised`` and ``chelated`` are the contents to guarantee from, percent by weight."""
    plant = PlantProfile.load()
    to, delivered = part.consignment, delivered_on(part)
    state = to.ship_to.state
    # The total follows from the nitrogen forms.
    analysis = {key: pct for key, pct in promised.items() if key != "N"}
    return guarantee.LabelBasis(
        analysis=analysis,
        kind=Kind.SPECIALTY,
        sources=(*_nutrient_sources(contents), *_other_sources(contents)),
        density_lb_per_gal=contents.density_lb_per_gal,
        volume_gal=to.volume_gal / part.package_count,
        # The plan's analysis is rounded: a part must not exceed its whole by that.
        chelated={key: min(pct, analysis.get(key, 0.0)) for key, pct in chelated.items()},
        jurisdiction=state if state in GRADE_RULES else None,
        particulars=guarantee.Particulars(
            lot=part.batch.number,
            guarantor=f"{plant.name}, {plant.address}",
            purchaser=to.customer_name,
            delivered_on=None if delivered is None else delivered.isoformat(),
        ),
    )


def _expected(contents: Contents) -> dict[str, float]:
    return {
        **contents.analysis,
        **{f"{key}{PARTS[1][0]}": pct for key, pct in _chelated(contents).items()},
        SLOW_CLAIM: sum(content_pct(contents.analysis, form) for form in SLOW_FORMS),
    }


def _holds(draft: guarantee.LabelDraft, expected: Mapping[str, float]) -> bool:
    """Whether every printed figure is true; a line that nothing is known of is not."""
    return all(
        float(pct) <= expected.get(key, 0.0) + _NOISE_PCT
        for key, (_, pct) in printed_lines(draft).items()
    )


def _applicable(
    allowed: guarantee.LabelDraft, asked: Iterable[guarantee.LabelChange]
) -> tuple[tuple[guarantee.LabelChange, ...], tuple[guarantee.LabelChange, ...]]:
    """The changes that still lower a line, and those the charged weights have overtaken."""
    kept: list[guarantee.LabelChange] = []
    void = []
    for change in asked:
        try:
            guarantee.with_changes(allowed, [*kept, change])
        except BadProblem:
            void.append(change)
        else:
            kept.append(change)
    return tuple(kept), tuple(void)


def delivered_on(part: BatchPart) -> date | None:
    """The day the part's order left; None while it is here."""
    order = part.order_line.order
    shipped = order.events.filter(to_status=order.Status.SHIPPED).order_by("pk").last()
    return None if shipped is None else timezone.localdate(shipped.at)


def _chelated(contents: Contents) -> dict[str, float]:
    return chelated_parts(contents.shares, {each.code: each.stock() for each in contents.stocks})


def _nutrient_sources(contents: Contents) -> tuple[guarantee.LabelSource, ...]:
    """What has an origin of its own is not ascribed to nutrient sources."""
    apart = frozenset(OTHER_INGREDIENTS)
    stocks = {
        each.code: each.stock(without=apart if each.figures.other_origin else frozenset())
        for each in contents.stocks
    }
    terms = {each.code: _terms(each.figures.derived_from) for each in contents.stocks}
    return label_sources(contents.shares, stocks, terms)


def _other_sources(contents: Contents) -> Iterator[guarantee.LabelSource]:
    """What the ingredients that are no plant nutrient come from."""
    for each in contents.stocks:
        supplies = {
            key: pct * each.pct / 100
            for key, pct in each.analysis.items()
            if key in OTHER_INGREDIENTS
        }
        for term in _terms(each.figures.other_origin) if supplies else ():
            yield guarantee.LabelSource(term, supplies, share_pct=each.pct)


def _terms(text: str) -> tuple[str, ...]:
    return tuple(term.strip() for term in text.split(",") if term.strip())


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
