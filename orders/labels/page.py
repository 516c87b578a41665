"""What the label page of a batch's part shows, as rows ready to print."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from typing import Any

from formulas.engine.label.printed_figures import text
from formulas.engine.result import Severity
from orders.labels.batch_label import BatchLabel, printed_lines
from orders.labels.preview import printed_words
from orders.labels.standing import label_state, metals_above
from orders.labels.view import (
    change_words,
    figures_note,
    grade_note,
    metal_lines,
    missed_words,
)
from orders.models import BatchPart


@dataclass(frozen=True, slots=True)
class GuaranteeRow:
    """A line: what the analysis holds, what it allows to say, and what the label says.

    ``says`` is empty for a line that was left out; ``expected`` is None where the load holds no
    figure of the line.
    """

    label: str
    is_part: bool
    expected: float | None
    allows: str
    says: str

    @property
    def is_changed(self) -> bool:
        """Whether a person lowered the line or left it out, or another change did."""
        return self.says != self.allows


def label_page(part: BatchPart) -> dict[str, Any]:
    """The context of the label page."""
    state = label_state(part)
    label = state.label
    findings = (*label.draft.cautions, *label.draft.notes)
    return {
        "state": state,
        "label": label,
        "view": state.view,
        "printed": printed_words(state.view),
        "rows": tuple(_rows(label)),
        "hints": label.allowed.hints,
        "cautions": [finding for finding in findings if finding.severity is Severity.CAUTION],
        "notes": [finding for finding in findings if finding.severity is not Severity.CAUTION],
        "missed": tuple(map(missed_words, label.missed)),
        "figures_note": figures_note(part.batch, label),
        "grade_note": grade_note(label),
        "metals": tuple(metal_lines(label)),
        "metals_above": metals_above(label),
        "changes": [(change, change_words(change)) for change in label.changes],
    }


def _rows(label: BatchLabel) -> Iterator[GuaranteeRow]:
    says = printed_lines(label.draft)
    parts = {line.key for line in label.allowed.guarantees if line.parent}
    for key, (name, pct) in printed_lines(label.allowed).items():
        yield GuaranteeRow(
            label=name,
            is_part=key in parts,
            expected=label.expected.get(key),
            allows=text(pct),
            says=text(says[key][1]) if key in says else "",
        )
