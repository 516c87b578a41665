"""Change a label draft by hand: lower, leave out or put back a line, never above the analysis.

What the analysis allows is asked of the engine each time; the log keeps every change with its
reason, and the next paper that is issued prints it and replaces the one before.
"""

from __future__ import annotations

from decimal import Decimal

from django.db import transaction

from blendshop.accounts.models import User
from blendshop.errors import BadInput, IllegalMove
from blendshop.roles import STAFF, Role, require_role
from formulas.engine.label import guarantee
from formulas.engine.label.printed_figures import as_printed, text
from formulas.engine.problem import BadProblem
from orders.labels.batch_label import BatchLabel, batch_label, printed_lines
from orders.labels.draft_pdf import render_label_draft
from orders.labels.sheets import render_label_placard, render_label_small
from orders.labels.view import label_draft_view
from orders.models import Batch, BatchPart, LabelChange, Paper
from orders.papers.actions import issue_unless_cancelled
from orders.production.sold_as import in_force

#: Who may change what a label says.
LABEL_EDITORS = (Role.FORMULATOR,)

Action = LabelChange.Action


def change_label(
    *,
    part: BatchPart,
    acting_user: User,
    key: str,
    action: str,
    pct: Decimal | None = None,
    why: str,
) -> LabelChange:
    """Lower a line to ``pct``, leave it out, or put it back to what the analysis allows.

    Raises BadInput naming the field, IllegalMove for a cancelled batch.
    """
    require_role(acting_user, *LABEL_EDITORS)
    if not why.strip():
        raise BadInput("Say why the label is changed.", fields={"why": "A reason is needed."})
    with transaction.atomic():
        # Two people at once: the second waits here and then sees the first one's change.
        batch = Batch.objects.select_for_update(of=("self",)).get(pk=part.batch_id)
        if batch.status == Batch.Status.CANCELLED:
            raise IllegalMove(f"{batch.number} is cancelled; its label is not changed any more.")
        label = batch_label(part)
        row = LabelChange(
            part=part, action=action, key=key, why=why.strip()[:400], by=acting_user,
            who=str(acting_user)[:160],
        )  # fmt: skip
        if action == Action.RESTORE:
            _put_back(row, label)
        else:
            _take_away(row, label, pct if action == Action.LOWER else None)
        row.save()
    return row


def _put_back(row: LabelChange, label: BatchLabel) -> None:
    changed = {change.key for change in in_force(label.changes)}
    if row.key not in changed:
        raise BadInput(
            "This line was not changed.", fields={"key": "Nothing to put back on this line."}
        )
    others = [change for change in in_force(label.changes) if change.key != row.key]
    after = guarantee.with_changes(label.allowed, others) if others else label.allowed
    row.label, allowed_pct = printed_lines(label.allowed)[row.key]
    # Another change may still hold the line down, or keep it off the label altogether.
    row.to_pct = printed_lines(after).get(row.key, (row.label, allowed_pct))[1]
    now = printed_lines(label.draft).get(row.key)
    row.from_pct = None if now is None else now[1]


def _take_away(row: LabelChange, label: BatchLabel, pct: Decimal | None) -> None:
    now = printed_lines(label.draft)
    if row.key not in now:
        raise BadInput(
            "The label has no such line.", fields={"key": "The label has no such line now."}
        )
    row.label, row.from_pct = now[row.key]
    row.to_pct = pct
    if row.action == Action.LOWER and pct is None:
        raise BadInput("Name the new figure.", fields={"pct": "A figure is needed."})
    if pct is not None and pct == row.from_pct:
        raise BadInput(
            "The label says that already.",
            fields={"pct": f"The label says {text(as_printed(row.key, pct))} % already."},
        )
    if pct is not None and pct > row.from_pct:
        raise BadInput(
            "A guarantee is lowered, never raised.",
            fields={
                "pct": f"{row.label} says {text(row.from_pct)} % now; it can be lowered,"
                " never raised. Put it back to take a change away."
            },
        )
    try:
        after = guarantee.with_changes(label.draft, [guarantee.LabelChange(row.key, pct, row.why)])
    except BadProblem as bad:
        fields = {error.field.rsplit(".", 1)[-1]: error.message for error in bad.errors}
        raise BadInput(" ".join(fields.values()), fields=fields) from bad
    if pct is not None:
        # The log says what the label prints: a figure finer than the line is rounded down.
        _, row.to_pct = printed_lines(after).get(row.key, (row.label, None))
    if pct is not None and row.to_pct is None:
        words = f"{row.label} prints no figure as small as {text(pct)} %."
        raise BadInput(words, fields={"pct": words})


def issue_label_draft(*, part: BatchPart, acting_user: User) -> Paper:
    """The label draft of a part of the load; a draft for review, never a registered label."""
    require_role(acting_user, *STAFF)
    return issue_unless_cancelled(
        Paper.Kind.LABEL_DRAFT, part, label_draft_view, render_label_draft, acting_user
    )


def issue_label_placard(*, part: BatchPart, acting_user: User) -> Paper:
    """The same label as a tote placard."""
    require_role(acting_user, *STAFF)
    return issue_unless_cancelled(
        Paper.Kind.LABEL_PLACARD, part, label_draft_view, render_label_placard, acting_user
    )


def issue_small_label(*, part: BatchPart, acting_user: User) -> Paper:
    """The same label on 4 by 6 inches."""
    require_role(acting_user, *STAFF)
    return issue_unless_cancelled(
        Paper.Kind.LABEL_SMALL, part, label_draft_view, render_label_small, acting_user
    )
