"""The label-draft contract: an analysis and its sources in, the lines of a label draft back."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping
from decimal import Decimal
from typing import Any, Final, TypeVar

from formulas.answers.label import (
    ChangedLine,
    GuaranteedLine,
    LabelAnswer,
    MetalInPpm,
    MetalPerYear,
    NearGuarantee,
    NotClaimed,
    OtherIngredientLine,
    ScreenedLabelAnswer,
    SourcedText,
)
from formulas.contracts.formulation_answer import PLACES, notice_of
from formulas.contracts.nitrogen_total import forms_only
from formulas.contracts.strict_json import Node, Refusals
from formulas.engine.label.guarantee import (
    LabelBasis,
    LabelChange,
    LabelDraft,
    LabelSource,
    Particulars,
    Statement,
    draft_label,
    with_changes,
)
from formulas.engine.label.metals import (
    BlendMetals,
    MetalCheck,
    MetalRule,
    MetalVerdict,
    known_metals,
    screen_metals,
    yearly_load,
)
from formulas.engine.label.nitrogen_lines import share_of_guarantee_pct
from formulas.engine.label.rules import PARTICULARS, Kind
from formulas.engine.label.text import as_text
from formulas.engine.problem import BadProblem
from formulas.reference.metals import UNIFORM, metal_rules, yearly_metal_rule

Found = TypeVar("Found")

CAUTION: Final = (
    "A draft for review by the label's registrant, not a registered label. The state's own text "
    "and local code decide."
)
#: Oregon states a density at this temperature (ORS 633.321(1)(e)).
_USUAL_F: Final = 68.0


def label_draft(body: Any) -> ScreenedLabelAnswer:
    """Answer a label-draft request; ``BadInput`` names every refused field.

    ``metals`` has a verdict for every metal and rule that sets it a limit; without
    ``metals_ppm`` it is ``not_assessed``, never a pass.
    """
    refusals = Refusals()
    node = Node(body, "", refusals)
    if refusals.fields:
        raise refusals.error()
    basis, changes = _basis(node, refusals), tuple(_changes(node, refusals))
    ppm, yearly_lb = node.numbers("metals_ppm"), node.number("product_lb_per_acre_year")
    temperature_f = node.number("temperature_f")
    node.done()
    blend = _noted(refusals, lambda: known_metals(ppm)) or BlendMetals({}, {})
    draft = _noted(refusals, lambda: with_changes(draft_label(basis), changes))
    guarantees = guaranteed(draft) if draft else {}
    loads = _noted(refusals, lambda: _yearly(guarantees, blend, yearly_lb))
    if draft is None or refusals.fields:
        raise refusals.error()
    return ScreenedLabelAnswer.extending(
        draft_answer(draft, net_at_f=_USUAL_F if temperature_f is None else temperature_f),
        metals=_metals(guarantees, blend),
        metals_yearly=loads,
    )


def _noted(refusals: Refusals, work: Callable[[], Found]) -> Found | None:
    """What the engine finds; what it refuses is noted, unless the reader refused it already."""
    try:
        return work()
    except BadProblem as bad:
        for error in bad.errors:
            if not refusals.covers(error.field):
                refusals.add(error.field, error.message)
        return None


def draft_answer(draft: LabelDraft, *, net_at_f: float = _USUAL_F) -> LabelAnswer:
    """A label draft as its answer; volumes hold at ``net_at_f`` degrees F."""
    by_key = {line.key: line.pct for line in draft.guarantees}
    claim_pct = draft.slow_release_claim_pct
    return LabelAnswer(
        grade=draft.grade,
        guarantees=tuple(
            GuaranteedLine(
                key=line.key,
                label=line.label,
                pct=float(line.pct),
                printed=line.printed,
                parent=line.parent,
            )
            for line in draft.guarantees
        ),
        slow_release_statement=draft.slow_release_statement,
        slow_release_pct=(
            None if claim_pct is None else float(share_of_guarantee_pct(claim_pct, by_key["N"]))
        ),
        derived_from=tuple(draft.derived_from),
        other_ingredients=tuple(
            OtherIngredientLine(
                key=item.key,
                label=item.label,
                pct=float(item.pct),
                printed=item.printed,
                sources=tuple(item.sources),
            )
            for item in draft.other_ingredients
        ),
        not_claimed=tuple(
            NotClaimed(
                key=item.key, pct=round(item.pct, PLACES), rule=item.rule, source=item.source
            )
            for item in draft.not_claimed
        ),
        net={
            unit: round(amount, PLACES)
            for unit, amount in (
                ("lb", draft.net.lb),
                ("kg", draft.net.kg),
                ("gal", draft.net.gal),
                ("L", draft.net.L),
            )
        },
        net_printed={unit: f"{amount:,}" for unit, amount in draft.net.printed.items()},
        stabilized_nitrogen_statement=_statement(draft.stabilized_nitrogen_statement),
        metals_statement=_statement(draft.metals_statement),
        hints=tuple(
            NearGuarantee(key=hint.key, more_pct=hint.more_pct, message=hint.message)
            for hint in draft.hints
        ),
        cautions=tuple(notice_of(finding) for finding in draft.cautions),
        notes=tuple(notice_of(finding) for finding in draft.notes),
        changes=tuple(
            ChangedLine(
                key=entry.key,
                label=entry.label,
                from_pct=float(entry.from_pct),
                to_pct=None if entry.to_pct is None else float(entry.to_pct),
                reason=entry.reason,
            )
            for entry in draft.changes
        ),
        text=as_text(draft, net_at_f=net_at_f),
        caution=CAUTION,
    )


def _basis(node: Node, refusals: Refusals) -> LabelBasis:
    """What was refused while reading is named already; 1 keeps the engine's list to the rest."""
    density = node.number("density_lb_per_gal", required=True)
    volume = node.number("volume_gal", required=True)
    if not node.has("analysis"):
        refusals.add("analysis", "Is missing.")
    return LabelBasis(
        analysis=forms_only(node.numbers("analysis"), refusals),
        kind=node.text("kind") or Kind.SPECIALTY,
        sources=tuple(_sources(node)),
        density_lb_per_gal=1.0 if density is None else density,
        volume_gal=1.0 if volume is None else volume,
        chelated=node.numbers("chelated"),
        water_soluble=node.numbers("water_soluble"),
        jurisdiction=node.text("jurisdiction"),
        metals_contact=node.text("metals_contact"),
        particulars=Particulars(**{name: node.text(name) for name, _, _ in PARTICULARS}),
        promised=node.numbers("promised"),
    )


def _sources(node: Node) -> Iterator[LabelSource]:
    for source in node.children("sources"):
        yield LabelSource(
            name=source.text("name", required=True) or "?",
            supplies=source.numbers("supplies"),
            share_pct=source.number("share_pct"),
        )
        source.done()


def _changes(node: Node, refusals: Refusals) -> Iterator[LabelChange]:
    """A change without ``pct`` (or with null) drops its line."""
    for change in node.children("changes"):
        key = change.text("key", required=True) or ""
        pct, reason = change.number("pct"), change.text("reason") or ""
        change.done()
        if not refusals.covers(change.path):
            yield LabelChange(key, None if pct is None else Decimal(repr(pct)), reason)


def _statement(statement: Statement | None) -> SourcedText | None:
    return None if statement is None else SourcedText(text=statement.text, source=statement.source)


def guaranteed(draft: LabelDraft) -> dict[str, float]:
    """Guaranteed percent by key, without the lines that are parts of another."""
    return {line.key: float(line.pct) for line in draft.guarantees if line.parent is None}


def metal_checks(
    guarantees: Mapping[str, float], blend: BlendMetals
) -> tuple[tuple[MetalRule, MetalCheck], ...]:
    """The uniform rule for every metal; other rules where they set a limit."""
    return tuple(
        (rule, check)
        for rule in metal_rules().values()
        for check in screen_metals(guarantees, blend, rule)
        if rule.code == UNIFORM or check.verdict is not MetalVerdict.NO_LIMIT
    )


def _metals(guarantees: Mapping[str, float], blend: BlendMetals) -> tuple[MetalInPpm, ...]:
    return tuple(
        MetalInPpm(
            rule=rule.code,
            metal=check.metal,
            name=check.name,
            found_ppm=check.found,
            limit_ppm=check.limit,
            verdict=check.verdict,
            source=check.source,
            verified=check.verified,
            note=check.note,
        )
        for rule, check in metal_checks(guarantees, blend)
    )


def _yearly(
    guarantees: Mapping[str, float], blend: BlendMetals, yearly_lb: float | None
) -> tuple[MetalPerYear, ...] | None:
    if yearly_lb is None:
        return None
    return tuple(
        MetalPerYear(
            rule="WA",
            metal=check.metal,
            name=check.name,
            found_lb_per_acre_year=check.found,
            limit_lb_per_acre_year=check.limit,
            verdict=check.verdict,
            source=check.source,
            verified=check.verified,
            note=check.note,
        )
        for check in yearly_load(guarantees, blend, yearly_lb, yearly_metal_rule())
    )
