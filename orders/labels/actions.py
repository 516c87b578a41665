"""Change a label by hand, approve it, take the approval back, print it.

A line is lowered, left out or put back, never above the analysis; what that allows is asked of the
engine each time. The log keeps every change with its reason, and the next paper that is issued
prints it and replaces the one before.
"""

from __future__ import annotations

from collections.abc import Collection
from decimal import Decimal

from django.db import transaction
from django.utils.translation import gettext as _

from blendshop.accounts.models import User
from blendshop.errors import BadInput, ChangedMeanwhile, IllegalMove
from blendshop.roles import STAFF, Role, require_role
from formulas.engine.label import guarantee
from formulas.engine.label.printed_figures import as_printed, text
from formulas.engine.problem import BadProblem
from formulas.models import BlendRevision
from orders.labels.approved import differences
from orders.labels.batch_label import BatchLabel, batch_label, printed_lines
from orders.labels.draft_pdf import render_label_draft
from orders.labels.sheets import render_label_placard, render_label_small
from orders.labels.standing import approvals_of, label_state, printed_label
from orders.models import (
    Batch,
    BatchPart,
    LabelApproval,
    LabelApprovalWithdrawn,
    LabelChange,
    Order,
    Paper,
)
from orders.papers.actions import issue_unless_cancelled
from orders.production.sold_as import in_force
from orders.records.letterhead import require_profile

#: Who may change what a label says.
LABEL_EDITORS = (Role.FORMULATOR,)
#: Who may approve a label and take an approval back.
LABEL_APPROVERS = (Role.FORMULATOR,)

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

    Raises BadInput naming the field, IllegalMove for a cancelled batch or an order that left.
    """
    require_role(acting_user, *LABEL_EDITORS)
    if not why.strip():
        raise BadInput(_("Say why the label is changed."), fields={"why": _("A reason is needed.")})
    with transaction.atomic():
        _require_not_shipped(part)
        # Two people at once: the second waits here and then sees the first one's change.
        batch = Batch.objects.select_for_update(of=("self",)).get(pk=part.batch_id)
        if batch.status == Batch.Status.CANCELLED:
            raise IllegalMove(
                _("%(batch)s is cancelled; its label is not changed any more.")
                % {"batch": batch.number}
            )
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


def _require_not_shipped(part: BatchPart) -> None:
    """What left says what it said: packing list, recall letter and tons go by its label."""
    # Held until commit: whoever ships it waits, and then finds the label changed. Before the batch,
    # as everybody locks the two.
    order = Order.objects.select_for_update(of=("self",)).get(lines=part.order_line_id)
    if order.status == Order.Status.SHIPPED:
        raise IllegalMove(
            _("%(order)s is shipped with its label; the label is not changed any more.")
            % {"order": order.number}
        )


def _put_back(row: LabelChange, label: BatchLabel) -> None:
    changed = {change.key for change in in_force(label.changes)}
    if row.key not in changed:
        raise BadInput(
            _("This line was not changed."), fields={"key": _("Nothing to put back on this line.")}
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
            _("The label has no such line."), fields={"key": _("The label has no such line now.")}
        )
    row.label, row.from_pct = now[row.key]
    row.to_pct = pct
    if row.action == Action.LOWER and pct is None:
        raise BadInput(_("Name the new figure."), fields={"pct": _("A figure is needed.")})
    if pct is not None and pct == row.from_pct:
        told = _("The label says %(pct)s %% already.") % {"pct": text(as_printed(row.key, pct))}
        raise BadInput(_("The label says that already."), fields={"pct": told})
    if pct is not None and pct > row.from_pct:
        told = _(
            "%(line)s says %(pct)s %% now; it can be lowered, never raised. Put it back to take a"
            " change away."
        ) % {"line": row.label, "pct": text(row.from_pct)}
        raise BadInput(_("A guarantee is lowered, never raised."), fields={"pct": told})
    try:
        after = guarantee.with_changes(label.draft, [guarantee.LabelChange(row.key, pct, row.why)])
    except BadProblem as bad:
        fields = {error.field.rsplit(".", 1)[-1]: error.message for error in bad.errors}
        raise BadInput(" ".join(fields.values()), fields=fields) from bad
    if pct is not None:
        # The log says what the label prints: a figure finer than the line is rounded down.
        _line, row.to_pct = printed_lines(after).get(row.key, (row.label, None))
    if pct is not None and row.to_pct is None:
        words = _("%(line)s prints no figure as small as %(pct)s %%.") % {
            "line": row.label, "pct": text(pct),
        }  # fmt: skip
        raise BadInput(words, fields={"pct": words})


def approve_label(
    *,
    part: BatchPart,
    acting_user: User,
    seen: str,
    confirmed: Collection[str] = (),
    note: str = "",
) -> LabelApproval:
    """Approve the label of a part for every load of its revision, state and package.

    ``seen`` is the fingerprint of the label the person read, ``confirmed`` names what was ticked
    (``LabelState.confirms``). A label that stands approved already is left as it is.

    Raises ChangedMeanwhile where the label says something else by now, IllegalMove where something
    forbids an approval or the batch is cancelled, BadInput naming a tick that is missing.
    """
    require_role(acting_user, *LABEL_APPROVERS)
    with transaction.atomic():
        batch = Batch.objects.select_for_update(of=("self",)).get(pk=part.batch_id)
        # Two people at two loads of one revision: the second waits here and finds the approval.
        BlendRevision.objects.select_for_update(of=("self",)).get(pk=part.order_line.revision_id)
        if batch.status == Batch.Status.CANCELLED:
            raise IllegalMove(
                _("%(batch)s is cancelled; its label is not approved any more.")
                % {"batch": batch.number}
            )
        state = label_state(BatchPart.objects.with_label().get(pk=part.pk))
        if state.approval is not None:
            return state.approval
        require_profile()
        if seen != state.now.fingerprint:
            raise ChangedMeanwhile(
                _("The label says something else than when you opened it; read it again.")
            )
        if state.forbids:
            raise IllegalMove(" ".join(state.forbids))
        missing = {name: words for name, words in state.confirms.items() if name not in confirmed}
        if missing:
            told = _("Tick this before you approve: %(what)s")
            raise BadInput(
                told % {"what": " ".join(missing.values())},
                fields={name: told % {"what": words} for name, words in missing.items()},
            )
        return LabelApproval.objects.create(
            revision_id=part.order_line.revision_id,
            state=part.consignment.ship_to.state,
            package_id=part.order_line.package_id,
            part=part,
            label=state.now.to_json(),
            note=note.strip()[:400],
            by=acting_user,
            who=str(acting_user)[:160],
        )


def withdraw_approval(
    *, part: BatchPart, acting_user: User, why: str
) -> list[LabelApprovalWithdrawn]:
    """Take back every approval under which the label of the part would stand; it is a draft again.

    What was printed or shipped stays as it is. Raises BadInput without a reason, IllegalMove where
    nothing stands.
    """
    require_role(acting_user, *LABEL_APPROVERS)
    if not why.strip():
        words = _("Say why the approval is withdrawn.")
        raise BadInput(words, fields={"why": words})
    with transaction.atomic():
        BlendRevision.objects.select_for_update(of=("self",)).get(pk=part.order_line.revision_id)
        state = label_state(BatchPart.objects.with_label().get(pk=part.pk))
        of_label = [
            each.pk for each in approvals_of(part) if not differences(each.approved, state.now)
        ]
        # An order that ships under one of them waits here, or is waited for.
        list(LabelApproval.objects.select_for_update().filter(pk__in=of_label))
        standing = list(LabelApproval.objects.filter(pk__in=of_label).standing())
        if not standing:
            raise IllegalMove(_("The label does not stand approved; there is nothing to withdraw."))
        return [
            LabelApprovalWithdrawn.objects.create(
                approval=approval, why=why.strip()[:400], by=acting_user, who=str(acting_user)[:160]
            )
            for approval in standing
        ]


def issue_label_draft(*, part: BatchPart, acting_user: User) -> Paper:
    """The label of a part of the load: a draft with its review until it is approved."""
    require_role(acting_user, *STAFF)
    return issue_unless_cancelled(
        Paper.Kind.LABEL_DRAFT, part, printed_label, render_label_draft, acting_user
    )


def issue_label_placard(*, part: BatchPart, acting_user: User) -> Paper:
    """The same label as a tote placard."""
    require_role(acting_user, *STAFF)
    return issue_unless_cancelled(
        Paper.Kind.LABEL_PLACARD, part, printed_label, render_label_placard, acting_user
    )


def issue_small_label(*, part: BatchPart, acting_user: User) -> Paper:
    """The same label on 4 by 6 inches."""
    require_role(acting_user, *STAFF)
    return issue_unless_cancelled(
        Paper.Kind.LABEL_SMALL, part, printed_label, render_label_small, acting_user
    )
