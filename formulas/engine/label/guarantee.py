"""The guaranteed analysis: what may be printed of an analysis, always rounded down.

Zeros never appear; secondary and micronutrients appear from their minimum upward; slow release
is claimed only from 15 percent of total nitrogen upward and only with its source named. No
printed line exceeds the analysis by more than ``printed_figures.PRECISION_PCT``, the precision
in which an analysis is read at all. How nitrogen forms add up to the total and why 24.0 % still
prints 24 is told in ``nitrogen_lines``.

A reviewer may lower a guarantee or drop an optional line, never raise one: ``with_changes``.
A draft is for review by the label's registrant, never a registered label.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence

from formulas.engine.composition import (
    NITROGEN_FORMS,
    OTHER_INGREDIENTS,
    SLOW_FORMS,
    content_pct,
)
from formulas.engine.label.changes import SLOW_CLAIM, checked_changes, log_of
from formulas.engine.label.grade_rules import GradeRule, grade_rule
from formulas.engine.label.hints import hints
from formulas.engine.label.model import (
    ChangeEntry,
    Guarantee,
    Hint,
    LabelBasis,
    LabelChange,
    LabelDraft,
    LabelSource,
    NetContents,
    NotClaimed,
    OtherIngredient,
    Particulars,
    Statement,
)
from formulas.engine.label.nitrogen_lines import NitrogenLines, nitrogen_lines
from formulas.engine.label.origins import derived_from, other_sources, slow_source_names
from formulas.engine.label.printed_figures import (
    NOISE,
    ONE_PERCENT,
    READ_DECIMALS,
    digits,
    floored,
    read,
    text,
)
from formulas.engine.label.refusals import refuse
from formulas.engine.label.rules import (
    CHELATED,
    LABELS,
    MINIMUM_SOURCE,
    MINIMUMS,
    OTHER_DECIMALS,
    PARTS,
    PRIMARY,
    SLOW_SHARE_PCT,
    SLOW_SOURCE,
    UNCLAIMED_SLOW_LABEL,
    WATER_SOLUBLE,
    ZERO_SOURCE,
    Kind,
)
from formulas.engine.label.statements import (
    cautions,
    metals_information,
    reading_notes,
    slow_release,
    stabilized_nitrogen,
)
from formulas.engine.units import KG_PER_LB, L_PER_GAL

__all__ = [
    "ChangeEntry",
    "Guarantee",
    "Hint",
    "LabelBasis",
    "LabelChange",
    "LabelDraft",
    "LabelSource",
    "NetContents",
    "NotClaimed",
    "OtherIngredient",
    "Particulars",
    "Statement",
    "draft_label",
    "propose",
    "with_changes",
]

#: Key to the most that may be printed, millionths of a percent; 0 leaves the line out.
Caps = Mapping[str, int]


def propose(
    analysis: Mapping[str, float],
    *,
    kind: str,
    sources: Sequence[LabelSource],
    density_lb_per_gal: float,
    volume_gal: float,
    chelated: Mapping[str, float] | None = None,
) -> LabelDraft:
    """Draft the label of one product; raises ``BadProblem`` naming every wrong field.

    >>> draft = propose({"N.urea": 7.84, "N.slow": 20.16}, kind="specialty",
    ...     sources=[LabelSource("urea-triazone solution", {"N": 28.0})],
    ...     density_lb_per_gal=10.7, volume_gal=265.0)
    >>> draft.grade, draft.slow_release_statement
    ('28-0-0', '20.16% slowly available nitrogen from urea-triazone solution')
    """
    return draft_label(
        LabelBasis(
            analysis=analysis,
            kind=kind,
            sources=tuple(sources),
            density_lb_per_gal=density_lb_per_gal,
            volume_gal=volume_gal,
            chelated=chelated or {},
        )
    )


def draft_label(basis: LabelBasis) -> LabelDraft:
    """Draft the label of one product; raises ``BadProblem`` naming every wrong field."""
    refuse(basis)
    return _draft(basis, {})


def with_changes(draft: LabelDraft, changes: Iterable[LabelChange]) -> LabelDraft:
    """The draft with guarantees lowered or optional lines dropped, logged in ``changes``.

    Everything that hangs on a line follows it: forms their total, sources and claims their
    lines. A second change of a key replaces the first. ``BadProblem`` names each line that would
    be raised above the analysis, is not there, may not be dropped or would fall below its
    minimum; ``ValueError`` if the draft does not know its basis.
    """
    if draft.basis is None:
        raise ValueError("This draft does not know what it was drafted from.")
    plain = _draft(draft.basis, {})
    asked = {change.key: change for change in draft.asked}
    asked.update({change.key: change for change in checked_changes(plain, tuple(changes))})
    caps = {
        key: 0 if change.pct is None else int(change.pct * ONE_PERCENT)
        for key, change in asked.items()
    }
    if not caps.keys().isdisjoint(("N", *NITROGEN_FORMS)):
        # A lower form must not let another one print more than it did, or appear at all.
        shown = {line.key: int(line.pct * ONE_PERCENT) for line in plain.guarantees}
        for form in NITROGEN_FORMS:
            caps.setdefault(form, shown.get(form, 0))
    return _draft(draft.basis, caps, before=plain, asked=tuple(asked.values()))


def _draft(
    basis: LabelBasis,
    caps: Caps,
    *,
    before: LabelDraft | None = None,
    asked: tuple[LabelChange, ...] = (),
) -> LabelDraft:
    rule, kind = grade_rule(basis.jurisdiction), Kind(basis.kind)
    nitrogen = nitrogen_lines(basis.analysis, rule, kind, caps)
    slow_names = slow_source_names(basis.sources)
    claims_slow = nitrogen.claim > 0 and bool(slow_names) and SLOW_CLAIM not in caps
    guarantees = (
        *_nitrogen(nitrogen, claims_slow=claims_slow),
        *_phosphate_and_potash(basis, rule, kind, caps),
        *_secondary_and_micro(basis, caps),
    )
    printed = {line.key: line for line in guarantees}
    others = tuple(_other_ingredients(basis, caps))
    mass_lb = basis.volume_gal * basis.density_lb_per_gal
    return LabelDraft(
        grade="-".join(text(printed[key].pct) if key in printed else "0" for key in PRIMARY),
        guarantees=guarantees,
        slow_release_statement=slow_release(nitrogen, basis.sources) if claims_slow else None,
        derived_from=derived_from(basis.sources, printed),
        other_ingredients=others,
        not_claimed=(
            *_unclaimed_contents(basis, {*printed, *caps}, rule),
            *_unclaimed_slow(basis, nitrogen, slow_names),
        ),
        net=NetContents(
            mass_lb, mass_lb * KG_PER_LB, basis.volume_gal, basis.volume_gal * L_PER_GAL
        ),
        cautions=tuple(cautions(guarantees, others, basis)),
        notes=tuple(reading_notes(guarantees, nitrogen if claims_slow else None, basis)),
        hints=() if caps else tuple(hints(basis, nitrogen, rule)),
        stabilized_nitrogen_statement=stabilized_nitrogen(others, has_n="N" in printed),
        metals_statement=metals_information(guarantees, basis.sources, basis.metals_contact),
        changes=() if before is None else log_of(before, guarantees, others, claims_slow, asked),
        asked=asked,
        basis=basis,
        slow_release_claim_pct=digits(nitrogen.claim) if claims_slow else None,
    )


def _nitrogen(nitrogen: NitrogenLines, *, claims_slow: bool) -> Iterable[Guarantee]:
    if nitrogen.total > 0:
        yield Guarantee("N", LABELS["N"], digits(nitrogen.total))
    for form, pct in nitrogen.forms.items():
        plain = form == "N.slow" and not claims_slow
        label = UNCLAIMED_SLOW_LABEL if plain else LABELS[form]
        yield Guarantee(form, label, digits(pct), parent="N")


def _phosphate_and_potash(
    basis: LabelBasis, rule: GradeRule, kind: Kind, caps: Caps
) -> Iterable[Guarantee]:
    for key in PRIMARY[1:]:
        held = _capped(basis.analysis, key, caps)
        pct = floored(held, rule.decimals((held + NOISE) / ONE_PERCENT, kind))
        if pct > 0:
            yield Guarantee(key, LABELS[key], digits(pct))


def _secondary_and_micro(basis: LabelBasis, caps: Caps) -> Iterable[Guarantee]:
    for key, minimum in MINIMUMS.items():
        pct = floored(_capped(basis.analysis, key, caps), minimum.decimals)
        if pct < read(minimum.pct):
            continue
        yield Guarantee(key, LABELS[key], digits(pct))
        for ending, adjective in PARTS:
            contents = basis.chelated if ending == ".chelated" else basis.water_soluble
            part = floored(_capped(contents, key, caps, key + ending), minimum.decimals)
            if (part := min(part, pct)) > 0:
                name = (CHELATED if ending == ".chelated" else WATER_SOLUBLE)[key]
                yield Guarantee(key + ending, f"{adjective} {name}", digits(part), parent=key)


def _other_ingredients(basis: LabelBasis, caps: Caps) -> Iterable[OtherIngredient]:
    for key in OTHER_INGREDIENTS:
        pct = floored(_capped(basis.analysis, key, caps), OTHER_DECIMALS[key])
        if pct > 0:
            yield OtherIngredient(key, LABELS[key], digits(pct), other_sources(key, basis.sources))


def _capped(contents: Mapping[str, float], key: str, caps: Caps, line: str = "") -> int:
    """A content in millionths, at most what the reviewer left of its line."""
    held = read(contents.get(key, 0.0))
    return min(held, caps.get(line or key, held))


def _unclaimed_contents(
    basis: LabelBasis, settled: set[str], rule: GradeRule
) -> Iterable[NotClaimed]:
    """Contents without a line of their own, unless the reviewer dropped it."""
    for key in PRIMARY:
        pct = content_pct(basis.analysis, key)
        if pct > 0 and key not in settled:
            words = f"{LABELS[key]} rounds down to zero; a zero is never guaranteed."
            yield NotClaimed(key, pct, words, f"{ZERO_SOURCE}; {rule.source}")
    for key, minimum in MINIMUMS.items():
        if (pct := basis.analysis.get(key, 0.0)) > 0 and key not in settled:
            words = (
                f"{_plain(pct)} % {LABELS[key]} is below the {minimum.pct:g} % from which it may "
                "be guaranteed."
            )
            yield NotClaimed(key, pct, words, MINIMUM_SOURCE)
    for key in OTHER_INGREDIENTS:
        pct = basis.analysis.get(key, 0.0)
        if pct > 0 and key not in settled and not floored(read(pct), OTHER_DECIMALS[key]):
            words = f"{LABELS[key]} rounds down to zero; a zero is never printed."
            yield NotClaimed(key, pct, words, ZERO_SOURCE)


def _unclaimed_slow(
    basis: LabelBasis, nitrogen: NitrogenLines, slow_names: Sequence[str]
) -> Iterable[NotClaimed]:
    pct = sum(content_pct(basis.analysis, form) for form in SLOW_FORMS)
    if pct <= 0:
        return
    if not nitrogen.claim:
        words = f"Slow release needs at least {SLOW_SHARE_PCT} % of the total nitrogen."
        yield NotClaimed(SLOW_CLAIM, pct, words, SLOW_SOURCE)
    elif not slow_names:
        words = "The source of the slowly available nitrogen must be identified."
        yield NotClaimed(SLOW_CLAIM, pct, words, SLOW_SOURCE)


def _plain(pct: float) -> str:
    """A content in plain digits, as far as it is read."""
    return f"{pct:.{READ_DECIMALS}f}".rstrip("0").rstrip(".")
