"""The year's blends: solved and saved as ever, and as old as the year."""

from __future__ import annotations

from datetime import date

from formulas.blends.actions import review_recipe, save_blend
from formulas.engine_bridge import exact, load_catalogue
from formulas.models import Blend, BlendRevision, RecipeReview
from orders.demo.year import calendar
from orders.demo.year.actions.dated import backdate
from orders.demo.year.actions.people import People
from orders.demo.year.blends import BLENDS, RATE
from orders.models import LabelPromise
from orders.planning.actions.promises import promise_of_default_load
from orders.planning.load_question import load_recipe

#: The load whose label lines are promised, gallons.
_FIRST_GAL = 530


def add_blends(people: People, today: date) -> dict[str, BlendRevision]:
    """What is sold over the year by name, each with its label lines and a formulator's review."""
    catalogue = load_catalogue(today)
    for name, note, wish in BLENDS:
        if not Blend.objects.filter(name=name).exists():
            save_blend(
                acting_user=people.reps[0], name=name, company=None, wish=wish, note=note,
                today=today, catalogue=catalogue,
            )  # fmt: skip
    revisions = {blend.name: blend.latest for blend in Blend.objects.filter(name__in=RATE)}
    reviewed = set(RecipeReview.objects.values_list("revision", flat=True))
    for revision in revisions.values():
        promise_of_default_load(
            recipe=load_recipe(revision, today),
            volume_gal=exact(_FIRST_GAL),
            acting_user=people.reps[0],
        )
        if revision.pk not in reviewed:
            review_recipe(
                acting_user=people.formulator, revision=revision, note="Demo review, invented."
            )
    start = calendar.moment(calendar.first_day(today), 7 * 60)
    ids = [revision.pk for revision in revisions.values()]
    backdate(BlendRevision, ids, created_at=start)
    backdate(Blend, [revision.blend_id for revision in revisions.values()], created_at=start)
    promises = LabelPromise.objects.filter(revision__in=ids)
    backdate(LabelPromise, promises.values_list("pk", flat=True), at=start)
    reviews = RecipeReview.objects.filter(revision__in=ids)
    backdate(RecipeReview, reviews.values_list("pk", flat=True), at=start)
    return revisions
