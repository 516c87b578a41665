"""What a part of a load is sold as: the promise while the load keeps it, else what it holds.

A label prints the promise, the same for every load of a revision. Only a load that really misses
a printed line is sold as less: then its figures follow the weights, in the decimals of the state
it goes to, and every paper says the same.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from decimal import Decimal
from functools import cached_property

from formulas.engine.composition import NITROGEN_FORMS, WISH_KEYS, content_pct
from formulas.engine.label import guarantee
from formulas.engine.label.grade_rules import GRADE_RULES
from formulas.engine.label.printed_figures import PRECISION_PCT
from formulas.engine.label.rules import PRIMARY, Kind
from formulas.engine.problem import BadProblem
from orders.models import BatchPart, LabelChange
from orders.production.as_made import promised
from orders.production.made_record import MadeRecord


@dataclass(frozen=True, slots=True)
class FigureBasis:
    """What the figures of a label follow from, percent by weight; nitrogen by its forms."""

    analysis: Mapping[str, float]
    promised: Mapping[str, float]
    lines: Mapping[str, Decimal] | None


@dataclass(frozen=True)
class SoldAs:
    """The figures of one part; ``follows_weights``: what was charged misses a printed line."""

    part: BatchPart
    record: MadeRecord
    basis: FigureBasis
    follows_weights: bool

    @cached_property
    def lines(self) -> Mapping[str, Decimal]:
        """Percent by key of every guarantee, changes by hand among them."""
        draft = _draft(self.part, self.basis)
        asked, _ = applicable(draft, in_force(self.part.label_changes.all()))
        return _lines(guarantee.with_changes(draft, asked) if asked else draft)

    @property
    def grade(self) -> str:
        """What label, certificate, packing list and report of tons say."""
        return grade_of(self.lines)

    @cached_property
    def lines_held(self) -> Mapping[str, Decimal]:
        """The same without what people lowered by hand."""
        return _lines(_draft(self.part, self.basis))

    @cached_property
    def agreed_grade(self) -> str:
        """The grade of the promise that holds: the plan's, or the lower one agreed since."""
        return grade_of(_lines(_draft(self.part, promise_basis(self.part))))

    @cached_property
    def promised_grade(self) -> str:
        """The grade that was sold before anything was charged."""
        return grade_of(_lines(_draft(self.part, promise_basis(self.part, as_planned=True))))

    @property
    def is_lowered(self) -> bool:
        """Whether it is sold as less than was promised, agreed or not."""
        return self.grade != self.promised_grade

    @property
    def needs_agreement(self) -> bool:
        """Whether it holds less than the customer ever agreed to."""
        if self.record.shortfalls:
            return True
        if not (self.follows_weights and self.record.plan.has_tolerances):
            return False
        return grade_of(self.lines_held) != self.agreed_grade


def sold_as(record: MadeRecord, part: BatchPart) -> SoldAs:
    """The figures a part's papers state."""
    promise = promise_basis(part)
    made = record.complete
    if made is None:
        return SoldAs(part, record, promise, follows_weights=False)
    missed = any(
        float(pct) > content_pct(made.analysis, key) + PRECISION_PCT
        for key, pct in _lines(_draft(part, promise)).items()
    )
    basis = weights_basis(part, made.analysis) if missed else promise
    return SoldAs(part, record, basis, follows_weights=missed)


def batch_grade(record: MadeRecord) -> str:
    """The grade of a whole load; where its parts go to states of other decimals, each of them."""
    grades = (sold_as(record, part).grade for part in record.batch.parts.all())
    return " / ".join(dict.fromkeys(grades))


def promise_basis(part: BatchPart, *, as_planned: bool = False) -> FigureBasis:
    """From the plan: the worst case over all weights on target, held to the promised lines.

    A plan of before there were tolerances knows no worst case: its expected analysis counts.
    ``as_planned`` leaves out what was lowered since.
    """
    plan = part.batch.load_plan
    wished = promised_minima(part, as_planned=as_planned)
    if not plan.has_tolerances:
        return FigureBasis(_forms(plan.analysis), wished, None)
    return FigureBasis(_forms(plan.least_pct or plan.analysis), wished, own_lines(part) or None)


def weights_basis(part: BatchPart, analysis: Mapping[str, float]) -> FigureBasis:
    """From what was charged: no line above the promised one, but forms may make up for another."""
    lines = None
    if part.batch.load_plan.has_tolerances:
        own = own_lines(part).items()
        lines = {key: pct for key, pct in own if key not in NITROGEN_FORMS} or None
    return FigureBasis(_forms(analysis), promised_minima(part), lines)


def promised_minima(part: BatchPart, *, as_planned: bool = False) -> dict[str, float]:
    """The minima that were promised, a lower one agreed since among them.

    In a plan of before there were tolerances the grade follows from its analysis, unless a lower
    one was agreed.
    """
    plan = part.batch.load_plan
    minima = plan.promised.minima_pct if as_planned else promised(part.batch)[0]
    if plan.has_tolerances or (not as_planned and part.batch.lowered_promise):
        return dict(minima)
    return {key: pct for key, pct in minima.items() if key not in PRIMARY}


def own_lines(part: BatchPart) -> dict[str, Decimal]:
    """The lines the load keeps, as far as they are the part's own: another product may share it."""
    kept, own = part.batch.load_plan.printed_pct, part.consignment.printed_pct
    if not own:
        return dict(kept)
    return {key: min(pct, own[key]) for key, pct in kept.items() if key in own}


def jurisdiction(part: BatchPart) -> str | None:
    """The state whose grade rule holds; None where none was read: the uniform practice."""
    state = part.consignment.ship_to.state
    return state if state in GRADE_RULES else None


def grade_of(lines: Mapping[str, Decimal]) -> str:
    """Total N, available phosphate and soluble potash as a label writes them."""
    return "-".join(f"{lines.get(key, Decimal(0)):f}" for key in PRIMARY)


def in_force(changes: Iterable[LabelChange]) -> tuple[guarantee.LabelChange, ...]:
    """The newest change of each line, oldest first; a line that was put back has none."""
    newest: dict[str, guarantee.LabelChange] = {}
    for change in changes:
        newest.pop(change.key, None)
        if change.action != LabelChange.Action.RESTORE:
            newest[change.key] = guarantee.LabelChange(change.key, change.to_pct, change.why)
    return tuple(newest.values())


def applicable(
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


def _draft(part: BatchPart, basis: FigureBasis) -> guarantee.LabelDraft:
    """The lines alone: sources, density and volume decide none of their figures."""
    return guarantee.draft_label(
        guarantee.LabelBasis(
            analysis=basis.analysis,
            kind=Kind.SPECIALTY,
            sources=(),
            density_lb_per_gal=part.batch.load_plan.density_lb_per_gal,
            volume_gal=1.0,
            jurisdiction=jurisdiction(part),
            promised=basis.promised,
            lines=basis.lines,
        )
    )


def _lines(draft: guarantee.LabelDraft) -> dict[str, Decimal]:
    lines: tuple[guarantee.Guarantee | guarantee.OtherIngredient, ...] = (
        *draft.guarantees,
        *draft.other_ingredients,
    )
    return {line.key: line.pct for line in lines if line.key in WISH_KEYS}


def _forms(analysis: Mapping[str, float]) -> dict[str, float]:
    """Without the total, which follows from the nitrogen forms."""
    return {key: pct for key, pct in analysis.items() if key != "N"}
