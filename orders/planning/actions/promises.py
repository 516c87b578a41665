"""The label promise of a revision: written with its first quote or plan, kept by every load."""

from __future__ import annotations

from django.db import IntegrityError, transaction

from blendshop.accounts.models import User
from formulas.models import BlendRevision
from orders.frozen.label_lines import LabelLines
from orders.models import LabelPromise


def promise_for(
    *, revision: BlendRevision, lines: LabelLines, acting_user: User
) -> LabelPromise:
    """The promise of a revision; ``lines`` are written down if it has none yet, else kept.

    Part of sending a quote or of planning, so no permission of its own.
    """
    if (promise := promise_of(revision)) is not None:
        return promise
    try:
        with transaction.atomic():
            return LabelPromise.objects.create(
                revision=revision, lines=lines.to_json(), by=acting_user, who=str(acting_user)
            )
    except IntegrityError:
        # Two people at the same moment: what the other wrote counts.
        if (promise := promise_of(revision)) is None:
            raise
        return promise


def promise_of(revision: BlendRevision) -> LabelPromise | None:
    """What was promised already, if anything was."""
    return LabelPromise.objects.filter(revision=revision).first()
