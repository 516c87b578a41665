"""Lowering a guarantee or dropping an optional line: what is refused, and the log of the rest."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Mapping, Sequence
from decimal import Decimal
from typing import Final

from formulas.engine.composition import NITROGEN_FORMS
from formulas.engine.label.model import (
    ChangeEntry,
    Guarantee,
    LabelChange,
    LabelDraft,
    OtherIngredient,
)
from formulas.engine.label.printed_figures import text
from formulas.engine.label.rules import MINIMUMS, PRIMARY
from formulas.engine.problem import BadProblem, FieldError

#: Key of the slow-release claim among changes and unclaimed contents.
SLOW_CLAIM: Final = "slow_release"
SLOW_CLAIM_NAME: Final = "Slow-release claim"
#: Lines that stand or fall with the grade or with their total.
_NOT_OPTIONAL: Final = frozenset((*PRIMARY, *NITROGEN_FORMS))

Lines = Mapping[str, tuple[str, Decimal]]


def checked_changes(allowed: LabelDraft, changes: Sequence[LabelChange]) -> tuple[LabelChange, ...]:
    """The changes, if all of them may be made to what the analysis allows; else ``BadProblem``."""
    lines = _lines(allowed.guarantees, allowed.other_ingredients)
    seen = Counter(change.key for change in changes)
    errors = [
        FieldError(f"changes.{index}.{field}", message)
        for index, change in enumerate(changes)
        for field, message in _faults(change, lines, allowed)
    ]
    errors += [
        FieldError(f"changes.{index}.key", f"{change.key} is changed more than once.")
        for index, change in enumerate(changes)
        if seen[change.key] > 1
    ]
    if errors:
        raise BadProblem(tuple(errors))
    return tuple(changes)


def _faults(change: LabelChange, lines: Lines, allowed: LabelDraft) -> Iterable[tuple[str, str]]:
    if change.key == SLOW_CLAIM:
        if allowed.slow_release_statement is None:
            yield "key", "No slow release is claimed."
        elif change.pct is not None:
            yield "pct", "The claim can only be dropped; lower the slow nitrogen instead."
        return
    if change.key not in lines:
        yield "key", f"The label has no line {change.key}."
        return
    label, most = lines[change.key]
    if change.pct is None:
        if change.key in _NOT_OPTIONAL:
            yield "pct", f"{label} is no optional line; it can be lowered."
    elif not change.pct.is_finite() or change.pct <= 0:
        yield "pct", f"{label} must be above zero; a zero is never printed."
    elif change.pct > most:
        yield (
            "pct",
            (
                f"{label} can be lowered, never raised: the analysis allows {text(most)} %, not "
                f"{text(change.pct)} %."
            ),
        )
    elif change.key in MINIMUMS and change.pct < Decimal(repr(MINIMUMS[change.key].pct)):
        yield (
            "pct",
            (
                f"{label} is guaranteed from {MINIMUMS[change.key].pct:g} % upward; drop the line "
                "instead."
            ),
        )


def log_of(
    before: LabelDraft,
    guarantees: Sequence[Guarantee],
    others: Sequence[OtherIngredient],
    claims_slow: bool,  # noqa: FBT001 # the draft's state, not a switch
    asked: Sequence[LabelChange],
) -> tuple[ChangeEntry, ...]:
    """Every line that differs from what the analysis allows; the asked ones with their reason."""
    reasons = {change.key: change.reason for change in asked}
    now = _lines(guarantees, others)
    entries = [
        ChangeEntry(key, label, pct, now[key][1] if key in now else None, _reason(key, reasons))
        for key, (label, pct) in _lines(before.guarantees, before.other_ingredients).items()
        if key not in now or now[key][1] != pct
    ]
    slow = before.slow_release_claim_pct
    if slow is not None and not claims_slow:
        reason = _reason(SLOW_CLAIM, reasons)
        entries.append(ChangeEntry(SLOW_CLAIM, SLOW_CLAIM_NAME, slow, None, reason))
    return tuple(entries)


def _reason(key: str, reasons: Mapping[str, str]) -> str:
    return reasons[key] if key in reasons else f"follows from {', '.join(sorted(reasons))}"


def _lines(guarantees: Sequence[Guarantee], others: Sequence[OtherIngredient]) -> Lines:
    lines: tuple[Guarantee | OtherIngredient, ...] = (*guarantees, *others)
    return {line.key: (line.label, line.pct) for line in lines}
