"""What was saved and is asked again: revisions and draft wishes."""

from __future__ import annotations

from typing import Any

from django.http import QueryDict
from django.shortcuts import get_object_or_404

from formulas.answers.wish import Wish
from formulas.models import Blend, BlendRevision, DraftWish
from orders.blend_page.page_options import PageOptions
from orders.blend_page.typed_again import fields_of


def get_revision_for(user: Any, pk: str) -> BlendRevision:
    """A revision of a blend this person may see; Http404 otherwise, also for no number."""
    revisions = BlendRevision.objects.filter(blend__in=Blend.objects.visible_to(user))
    found: BlendRevision = get_object_or_404(revisions.select_related("blend"), pk=_number(pk))
    return found


def get_draft_for(user: Any, pk: str) -> DraftWish:
    """A draft wish that this person may see; Http404 otherwise."""
    found: DraftWish = get_object_or_404(DraftWish.objects.visible_to(user), pk=_number(pk))
    return found


def typed_again(wish: Wish, company_id: int | None, options: PageOptions) -> QueryDict:
    """The fields that ask a saved wish again, for the same customer."""
    data = QueryDict(mutable=True)
    for name, values in fields_of(wish, options.packages, options.default_package).items():
        data.setlist(name, values)
    if company_id:
        data["company"] = str(company_id)
    return data


def _number(pk: str) -> int:
    """Row numbers start at 1, so 0 finds nothing."""
    return int(pk) if pk.isdecimal() and len(pk) < 10 else 0
