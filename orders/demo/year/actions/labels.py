"""Labels of the year: each kind approved before its first load left."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import datetime

from blendshop.accounts.models import User
from orders.demo.year.actions.batches import Made
from orders.demo.year.actions.dated import put_in
from orders.labels.standing import ApprovedKind, kind_of, label_states
from orders.models import BatchPart, LabelApproval

_NOTE = "Demo data: nobody read the state's text for it."


def approve_labels(made: Sequence[Made], formulator: User) -> dict[ApprovedKind, int]:
    """An approval of each revision, state and package, by the part that needed it first."""
    first: dict[ApprovedKind, tuple[int, datetime]] = {}
    for each in made:
        for part in each.parts:
            first.setdefault(kind_of(part), (part.pk, each.released_at))
    when = dict(first.values())
    states = label_states(BatchPart.objects.with_label().filter(pk__in=when).order_by("pk"))
    approvals = put_in(
        LabelApproval,
        (
            LabelApproval(
                revision_id=kind[0],
                state=kind[1],
                package_id=kind[2],
                part=state.part,
                label=state.now.to_json(),
                note=_NOTE,
                by=formulator,
                who=str(formulator),
                at=when[state.part.pk],
            )
            for state, kind in ((state, kind_of(state.part)) for state in states)
        ),
    )
    return {(row.revision_id, row.state, row.package_id): row.pk for row in approvals}
