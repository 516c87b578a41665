"""Whether a label stands approved, why an approval ended, and what one still needs.

An approval covers a part whose label says what was approved and rests on the same rules; it is read
each time and copied nowhere, so that a change of promise, sources or rules ends it by itself.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from typing import Final

from django.utils import timezone
from django.utils.translation import gettext as _
from django.utils.translation import ngettext

from blendshop.errors import IllegalMove
from blendshop.figures.readers import house
from formulas.engine.label.metals import MetalVerdict
from orders.frozen.approved_label import ApprovedLabel
from orders.labels.approved import Difference, differences, to_approve
from orders.labels.batch_label import BatchLabel, batch_labels
from orders.labels.view import label_draft_view, missed_words
from orders.labels.view_models import LabelDraftView
from orders.models import Batch, BatchPart, LabelApproval, LabelApprovalWithdrawn, Order

#: What a formulator confirms by a tick of its own.
METALS: Final = "metals"
UNVERIFIED: Final = "unverified"


@dataclass(frozen=True, slots=True)
class LabelState:
    """A label with its approval, if one covers it.

    ``ended`` is the newest approval of the same revision, state and package that does not cover
    it, ``changed`` why; ``withdrawn`` the withdrawal, where that is the newest thing that happened.
    ``forbids`` are sentences that stand in the way of an approval, ``confirms`` what needs a tick,
    by its name.
    """

    part: BatchPart
    label: BatchLabel
    view: LabelDraftView
    now: ApprovedLabel
    approval: LabelApproval | None
    ended: LabelApproval | None
    changed: tuple[Difference, ...]
    withdrawn: LabelApprovalWithdrawn | None
    forbids: tuple[str, ...]
    confirms: dict[str, str]

    @property
    def is_approved(self) -> bool:
        return self.approval is not None

    @property
    def words(self) -> str:
        """One sentence: approved by whom, or not and since when."""
        if self.approval is not None:
            return approval_words(self.approval)
        if self.withdrawn is not None:
            return _("Label not approved: withdrawn by %(who)s on %(day)s.") % {
                "who": self.withdrawn.who, "day": _day(self.withdrawn),
            }  # fmt: skip
        if self.changed:
            return _("Label not approved: it is not as it was approved.")
        return _("Label not approved.")


def approval_words(approval: LabelApproval) -> str:
    """Who approved the label and when."""
    if approval.in_use_before:
        return _("Label in use since %(day)s, before labels were approved here.") % {
            "day": _day(approval)
        }
    return _("Label approved by %(who)s on %(day)s.") % {"who": approval.who, "day": _day(approval)}


def _day(row: LabelApproval | LabelApprovalWithdrawn) -> str:
    return house().date(timezone.localdate(row.at))


def _approved(view: LabelDraftView, approval: LabelApproval) -> LabelDraftView:
    """The label without the mark of a draft; what was in use before names nobody."""
    return replace(view, approved_by=approval.who, approved_on=timezone.localdate(approval.at))


#: What an approval is given for: revision, state and package.
ApprovedKind = tuple[int, str, int]


def kind_of(part: BatchPart) -> ApprovedKind:
    line = part.order_line
    return line.revision_id, part.consignment.ship_to.state, line.package_id


def approvals_of(part: BatchPart) -> list[LabelApproval]:
    """All of the part's revision, state and package, the newest first, withdrawn ones too."""
    return list(_approvals([part]).get(kind_of(part), ()))


def _approvals(parts: Sequence[BatchPart]) -> Mapping[ApprovedKind, Sequence[LabelApproval]]:
    found: dict[ApprovedKind, list[LabelApproval]] = defaultdict(list)
    rows = LabelApproval.objects.filter(revision__in={kind_of(part)[0] for part in parts})
    for row in rows.select_related("withdrawal__approval").order_by("-pk"):
        found[row.revision_id, row.state, row.package_id].append(row)
    return found


def label_state(part: BatchPart) -> LabelState:
    """The label of a part as it stands now, with its approval."""
    return label_states([part])[0]


def label_states(parts: Iterable[BatchPart]) -> list[LabelState]:
    """``label_state`` of many parts in their order, in the queries of one.

    The parts as ``with_label`` fetches them.
    """
    of = list(parts)
    labels, approvals = batch_labels(of), _approvals(of)
    return [_state(part, labels[part.pk], approvals.get(kind_of(part), ())) for part in of]


def _state(part: BatchPart, label: BatchLabel, every: Sequence[LabelApproval]) -> LabelState:
    view = label_draft_view(part, label)
    now = to_approve(part, label, view)
    withdrawn = [each for each in every if hasattr(each, "withdrawal")]
    standing = [each for each in every if each not in withdrawn]
    # No load above a limit leaves under an approval that was given to others of its kind.
    covering = next((a for a in standing if covers(a.approved, now)), None)
    if metals_above(label):
        covering = None
    # An approval of another single load says nothing of this one.
    near = (each for each in standing if each.approved.only_of in ("", now.only_of))
    ended = next(near, None) if covering is None else None
    taken_back = max((a.withdrawal for a in withdrawn), key=lambda row: row.pk, default=None)
    if taken_back is not None and (
        covering is not None or differences(taken_back.approval.approved, now)
    ):
        taken_back = None
    return LabelState(
        part=part,
        label=label,
        view=view if covering is None else _approved(view, covering),
        now=now,
        approval=covering,
        ended=ended,
        changed=() if ended is None else tuple(_not_covered(ended.approved, now)),
        withdrawn=taken_back,
        forbids=tuple(_forbids(part, label)),
        confirms=_confirms(label),
    )


def printed_label(part: BatchPart) -> LabelDraftView:
    """What the papers of the label print: with its approval, or as a draft."""
    return label_state(part).view


def covers(approved: ApprovedLabel, now: ApprovedLabel) -> bool:
    """Whether the label says what was approved, metals included that nobody has assessed."""
    return not any(True for _each in _not_covered(approved, now))


def _not_covered(approved: ApprovedLabel, now: ApprovedLabel) -> Iterator[Difference]:
    yield from differences(approved, now)
    if approved.metals_open is not None:
        unheard = [metal for metal in now.metals_open or () if metal not in approved.metals_open]
        if unheard:
            before = ", ".join(approved.metals_open)
            yield Difference(_("Metals not assessed"), before, ", ".join(now.metals_open or ()))


def metals_above(label: BatchLabel) -> list[str]:
    """Names of the metals of which the load holds more than a limit allows."""
    above = (check.name for _rule, check in label.metals if check.verdict is MetalVerdict.ABOVE)
    return list(dict.fromkeys(above))


def _forbids(part: BatchPart, label: BatchLabel) -> Iterator[str]:
    if above := metals_above(label):
        yield _("Above the metals limit: %(metals)s. Settle this first.") % {
            "metals": ", ".join(above)
        }
    if label.missed and not _is_agreed(part.batch):
        yield _(
            "Not kept by what was charged: %(lines)s. First correct the load, agree on a lower"
            " promise with the customer, or release it with a reason."
        ) % {"lines": "; ".join(map(missed_words, label.missed))}


def _is_agreed(batch: Batch) -> bool:
    """Less than was promised is agreed: with the customer, or by who released it with a reason.

    A load that misses a printed line is released by nobody but a formulator, see
    ``production/release_checks.py``.
    """
    return batch.lowered_promise is not None or batch.status == Batch.Status.RELEASED


def _confirms(label: BatchLabel) -> dict[str, str]:
    found = {}
    if label.metals_open:
        found[METALS] = _("Approve although these metals are not assessed: %(metals)s.") % {
            "metals": ", ".join(label.metals_open)
        }
    if topics := unverified_topics(label):
        found[UNVERIFIED] = ngettext(
            "Approve although this rule where it goes is unverified: %(topics)s.",
            "Approve although these rules where it goes are unverified: %(topics)s.",
            len(topics),
        ) % {"topics": "; ".join(topics)}
    return found


def unverified_topics(label: BatchLabel) -> list[str]:
    """Rules of the state that nobody read in its own text, by name."""
    return list(
        dict.fromkeys(
            f"{item.topic} ({item.citation})" for item in label.to_check if not item.is_verified
        )
    )


def labels_not_approved(parts: Iterable[BatchPart]) -> list[LabelState]:
    """Those of the parts whose label does not stand approved."""
    return [state for state in label_states(parts) if not state.is_approved]


def require_approved_labels(order: Order) -> list[LabelApproval]:
    """The approvals an order leaves under, held until commit; IllegalMove naming labels without."""
    parts = BatchPart.objects.filter(order_line__order=order).live().with_label()
    states = label_states(parts)
    # A withdrawal waits here, or is seen: it locks the same rows.
    rested_on = LabelApproval.objects.filter(
        pk__in=[state.approval.pk for state in states if state.approval is not None]
    )
    list(rested_on.select_for_update())
    held = set(rested_on.standing().values_list("pk", flat=True))
    open_labels = [
        state for state in states if state.approval is None or state.approval.pk not in held
    ]
    if open_labels:
        names = "; ".join(
            _("%(batch)s, %(product)s for %(customer)s")
            % {
                "batch": state.part.batch.number,
                "product": state.part.product_name,
                "customer": state.part.consignment.customer_name,
            }
            for state in open_labels
        )
        raise IllegalMove(
            ngettext(
                "Its label is not approved: %(names)s. A formulator approves it on the label's"
                " page; then the order ships.",
                "Its labels are not approved: %(names)s. A formulator approves each on the label's"
                " page; then the order ships.",
                len(open_labels),
            )
            % {"names": names}
        )
    return [state.approval for state in states if state.approval is not None]
