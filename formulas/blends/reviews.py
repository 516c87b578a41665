"""Which recipes a formulator has looked at, and what a recipe solved again brings along."""

from __future__ import annotations

import re
from collections.abc import Iterable, Mapping
from typing import Final

from django.db.models import OuterRef, Q, QuerySet, Subquery

from blendshop.roles import Role
from formulas.answers.answer import BlendFigures
from formulas.models import BlendRevision, RecipeReview

REVIEWERS: Final = (Role.FORMULATOR,)
#: The same caution of two recipes may name other figures.
_FIGURE: Final = re.compile(r"\d[\d.,]*")


def newest_words(revisions: Iterable[BlendRevision | int]) -> dict[int, RecipeReview]:
    """The newest word on each revision that has one, by the revision's key; one query."""
    keys = {each if isinstance(each, int) else each.pk for each in revisions}
    words: dict[int, RecipeReview] = {}
    found = RecipeReview.objects.filter(revision__in=keys).order_by("pk")
    for word in found.select_related("carried_from"):
        words[word.revision_id] = word
    return words


def not_reviewed(revisions: Iterable[BlendRevision]) -> tuple[BlendRevision, ...]:
    """Those whose recipe no formulator has reviewed, each once, in their order."""
    asked = {revision.pk: revision for revision in revisions}
    words = newest_words(asked)
    return tuple(
        revision for pk, revision in asked.items() if pk not in words or not words[pk].stands
    )


def without_review(revisions: QuerySet[BlendRevision]) -> QuerySet[BlendRevision]:
    """Those whose newest word is none or was taken back."""
    newest = RecipeReview.objects.filter(revision=OuterRef("pk")).order_by("-pk")
    told = revisions.annotate(review_stands=Subquery(newest.values("stands")[:1]))
    return told.filter(Q(review_stands=None) | Q(review_stands=False))


def is_reviewed(revision: BlendRevision) -> bool:
    """Whether a formulator's review of this recipe stands."""
    return not not_reviewed([revision])


def is_covered(base: BlendRevision, answer: BlendFigures) -> bool:
    """Whether a recipe brings neither a stock nor a caution that ``base`` did not have."""
    return not new_stocks(base, answer) and not new_cautions(base, answer)


def new_stocks(base: BlendRevision, answer: BlendFigures) -> tuple[str, ...]:
    """Names of stocks that ``base`` was made without."""
    known = set(base.lines.values_list("stock__code", flat=True))
    return tuple(line.name for line in answer.recipe if line.code not in known)


def new_cautions(base: BlendRevision, answer: BlendFigures) -> tuple[str, ...]:
    """Cautions, in sentences, that the recipe of ``base`` did not carry."""
    known = _cautions(base.solved)
    return tuple(text for key, text in _cautions(answer).items() if key not in known)


def _cautions(answer: BlendFigures) -> Mapping[tuple[str, str], str]:
    return {
        (notice.code, _FIGURE.sub("#", notice.message)): notice.message for notice in answer.alerts
    }
