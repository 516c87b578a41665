"""The guaranteed analysis: what may be printed of an analysis, always rounded down.

Zeros never appear; secondary and micronutrients appear from their minimum upward, chlorine only
where it is asked for; slow release is claimed only from 15 percent of total nitrogen upward and
only with its source named. No printed line exceeds the analysis by more than
``printed_figures.PRECISION_PCT``, the precision in which an analysis is read at all. How nitrogen
forms add up to the total in at most two decimals is told in ``nitrogen_lines``.

A reviewer may lower a guarantee or drop an optional line, never raise one: ``with_changes``.
A draft is for review by the label's registrant, never a registered label.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from decimal import Decimal

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
from formulas.engine.label.nitrogen_lines import NitrogenLines, grade_figure, nitrogen_lines
from formulas.engine.label.origins import derived_from, other_sources, slow_source_names
from formulas.engine.label.printed_figures import (
    ONE_PERCENT,
    READ_DECIMALS,
    digits,
    floored,
    guaranteed,
    read,
    text,
)
from formulas.engine.label.refusals import refuse
from formulas.engine.label.rules import (
    ASKED_ONLY,
    ASKED_ONLY_SOURCE,
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
from formulas.engine.mark import Mark
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
    lowered, caps = caps, _within_lines(basis, caps)
    nitrogen = nitrogen_lines(basis.analysis, rule, kind, caps, basis.promised)
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
            *_unclaimed_contents(
                basis, {*printed, *lowered, *(item.key for item in others)}, rule, kind
            ),
            *_unclaimed_slow(basis, nitrogen, slow_names),
        ),
        net=NetContents(
            mass_lb, mass_lb * KG_PER_LB, basis.volume_gal, basis.volume_gal * L_PER_GAL
        ),
        cautions=tuple(cautions(guarantees, others, basis)),
        notes=tuple(reading_notes(guarantees, nitrogen if claims_slow else None, basis)),
        hints=() if lowered or basis.lines is not None else tuple(hints(basis, nitrogen, rule)),
        stabilized_nitrogen_statement=stabilized_nitrogen(others, has_n="N" in printed),
        metals_statement=metals_information(guarantees, basis.sources, basis.metals_contact),
        changes=() if before is None else log_of(before, guarantees, others, claims_slow, asked),
        asked=asked,
        basis=basis,
        slow_release_claim_pct=digits(nitrogen.claim) if claims_slow else None,
    )


def _nitrogen(nitrogen: NitrogenLines, *, claims_slow: bool) -> Iterable[Guarantee]:
    if nitrogen.total > 0:
        yield Guarantee("N", LABELS["N"], guaranteed("N", nitrogen.total))
    for form, pct in nitrogen.forms.items():
        plain = form == "N.slow" and not claims_slow
        label = UNCLAIMED_SLOW_LABEL if plain else LABELS[form]
        yield Guarantee(form, label, guaranteed(form, pct), parent="N")


def _phosphate_and_potash(
    basis: LabelBasis, rule: GradeRule, kind: Kind, caps: Caps
) -> Iterable[Guarantee]:
    for key in PRIMARY[1:]:
        held = _capped(basis.analysis, key, caps)
        pct = grade_figure(min(held, _wish(basis, key) or held), rule, kind)
        if pct > 0:
            yield Guarantee(key, LABELS[key], guaranteed(key, pct))


def _secondary_and_micro(basis: LabelBasis, caps: Caps) -> Iterable[Guarantee]:
    for key, minimum in MINIMUMS.items():
        pct = floored(_capped(basis.analysis, key, caps), minimum.decimals)
        if pct < read(minimum.pct) or not _is_asked(basis, key):
            continue
        yield Guarantee(key, LABELS[key], guaranteed(key, pct))
        for ending, adjective in PARTS:
            contents = basis.chelated if ending == ".chelated" else basis.water_soluble
            part = floored(_capped(contents, key, caps, key + ending), minimum.decimals)
            if (part := min(part, pct)) > 0:
                name = (CHELATED if ending == ".chelated" else WATER_SOLUBLE)[key]
                figure = guaranteed(key, part)
                yield Guarantee(key + ending, f"{adjective} {name}", figure, parent=key)


def _other_ingredients(basis: LabelBasis, caps: Caps) -> Iterable[OtherIngredient]:
    for key in OTHER_INGREDIENTS:
        pct = floored(_capped(basis.analysis, key, caps), OTHER_DECIMALS[key])
        if pct > 0:
            figure = guaranteed(key, pct)
            yield OtherIngredient(key, LABELS[key], figure, other_sources(key, basis.sources))


def _within_lines(basis: LabelBasis, caps: Caps) -> Caps:
    """The reviewer's caps, nothing above the lines promised already and nothing beside them.

    Lines that name no nitrogen form, no part or no other ingredient at all leave those to the
    analysis.
    """
    lines = basis.lines
    if lines is None:
        return caps
    parts = tuple(key + ending for key in WATER_SOLUBLE for ending, _ in PARTS)
    named = [
        keys
        for keys in (NITROGEN_FORMS, parts, OTHER_INGREDIENTS)
        if not lines.keys().isdisjoint(keys)
    ]
    promised = {
        key: int(lines.get(key, Decimal(0)) * ONE_PERCENT)
        for keys in ((*PRIMARY, *MINIMUMS), *named)
        for key in keys
    }
    return {**caps, **{key: min(most, caps.get(key, most)) for key, most in promised.items()}}


def _wish(basis: LabelBasis, key: str) -> int:
    """The wished minimum of a nutrient in millionths, 0 without one."""
    return read(basis.promised.get(key, 0.0))


def _is_asked(basis: LabelBasis, key: str) -> bool:
    """Whether a line may stand that nobody prints unasked."""
    return key not in ASKED_ONLY or _wish(basis, key) > 0 or key in (basis.lines or ())


def _capped(contents: Mapping[str, float], key: str, caps: Caps, line: str = "") -> int:
    """A content in millionths, at most what the reviewer left of its line."""
    held = read(contents.get(key, 0.0))
    return min(held, caps.get(line or key, held))


def _unclaimed_contents(
    basis: LabelBasis, settled: set[str], rule: GradeRule, kind: Kind
) -> Iterable[NotClaimed]:
    """Contents without a line of their own, unless the reviewer dropped it."""
    for key in (*PRIMARY, *MINIMUMS, *OTHER_INGREDIENTS):
        pct = content_pct(basis.analysis, key)
        if pct > 0 and key not in settled:
            yield NotClaimed(key, pct, *_why_not(basis, key, pct, rule, kind))


def _why_not(
    basis: LabelBasis, key: str, pct: float, rule: GradeRule, kind: Kind
) -> tuple[str, str]:
    """Why a content has no line, and which rule says so."""
    name, minimum = LABELS[key], MINIMUMS.get(key)
    if minimum is not None and read(pct) < read(minimum.pct):
        least = f"{minimum.pct:g} % from which it may be guaranteed"
        return f"{_plain(pct)} % {name} is below the {least}.", MINIMUM_SOURCE
    if not _is_asked(basis, key):
        return f"{name} is guaranteed only where it is asked for.", ASKED_ONLY_SOURCE
    if key in PRIMARY and (key == "N" or not grade_figure(read(pct), rule, kind)):
        words = f"{name} rounds down to zero; a zero is never guaranteed."
        return words, f"{ZERO_SOURCE}; {rule.source}"
    if key in OTHER_INGREDIENTS and not floored(read(pct), OTHER_DECIMALS[key]):
        return f"{name} rounds down to zero; a zero is never printed.", ZERO_SOURCE
    return f"{name} is not among the lines promised of this product.", Mark.COMMON_PRACTICE


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
