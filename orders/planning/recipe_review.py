"""Whether a load may be begun: its recipe is reviewed, or somebody answers for this load of it.

Planning is free: it reserves stock and a place in the tanks. What is weighed into a tank cannot
be taken out again, so nothing is weighed, nor a paper to weigh from printed, before that. Once a
load is begun it is finished: a review taken back then is said, and stops nothing half way.
"""

from __future__ import annotations

from collections.abc import Iterable
from typing import Final

from django.utils.translation import gettext as _

from blendshop.errors import IllegalMove
from formulas.blends.reviews import newest_words, not_reviewed
from formulas.models import BlendRevision
from orders.models import Batch, BatchEvent

#: Marks the event by which somebody answers for a load without a review.
GO_AHEAD: Final = "go_ahead_unreviewed"
_NOT_MADE_YET: Final = (Batch.Status.PLANNED, Batch.Status.CHARGING)


def unreviewed_recipe(batch: Batch) -> BlendRevision | None:
    """The recipe it is made by, if no review of it stands and the load is not made yet."""
    if batch.status not in _NOT_MADE_YET:
        return None
    made_by = BlendRevision.objects.filter(pk=batch.load_plan.revision_id).select_related("blend")
    return next(iter(not_reviewed(made_by)), None)


def go_ahead(batch: Batch) -> BatchEvent | None:
    """The newest word that it is made without a review; a review taken back since undoes it."""
    given = batch.events.filter(**{f"data__{GO_AHEAD}": True}).order_by("-pk").first()
    if given is None:
        return None
    word = newest_words([batch.load_plan.revision_id]).get(batch.load_plan.revision_id)
    return None if word is not None and word.at > given.at else given


def why_not_begun(batch: Batch) -> str:
    """Why nothing may be weighed into it yet, and what to do; empty where it may."""
    if batch.status != Batch.Status.PLANNED:
        return ""
    recipe = unreviewed_recipe(batch)
    if recipe is None or go_ahead(batch) is not None:
        return ""
    return _(
        "{batch} is not begun: no formulator has reviewed {recipe}. A formulator reviews it under"
        " Requests; formulator or office can also let this one load be made, with a reason, on the"
        " page of the batch."
    ).format(batch=batch.number, recipe=recipe)


def require_reviewed(batch: Batch) -> None:
    """IllegalMove where a load that is not begun yet may not be."""
    if told := why_not_begun(batch):
        raise IllegalMove(told)


def unreviewed_keys(revisions: Iterable[int]) -> frozenset[int]:
    """Of many recipes, by their keys, those no review stands of; one query."""
    asked = frozenset(revisions)
    words = newest_words(asked)
    return frozenset(key for key in asked if key not in words or not words[key].stands)


def waiting_for_review(batches: Iterable[Batch]) -> frozenset[int]:
    """Of the planned batches of a long list those that may not be begun, by key; two queries."""
    planned = {
        batch.pk: batch.planned_revision
        for batch in batches
        if batch.status == Batch.Status.PLANNED
    }
    words = newest_words(planned.values())
    taken_back = {key: word.at for key, word in words.items() if not word.stands}
    events = BatchEvent.objects.filter(batch__in=planned, **{f"data__{GO_AHEAD}": True})
    given = dict(events.order_by("pk").values_list("batch", "at"))
    return frozenset(
        batch
        for batch, revision in planned.items()
        if (revision not in words or revision in taken_back)
        and (batch not in given or (revision in taken_back and taken_back[revision] > given[batch]))
    )
