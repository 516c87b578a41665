"""A customer who may order by itself: recipes reviewed, limits agreed."""

from typing import Any

from blendshop.accounts.models import Company
from formulas.models import BlendRevision, RecipeReview
from orders.models import OrderLimits


def review(*revisions: BlendRevision) -> None:
    for revision in revisions:
        RecipeReview.objects.create(revision=revision, who="Fran Form")


def agree_limits(company: Company, **limits: Any) -> OrderLimits:
    """Limits as named; none of the kinds that are not."""
    found, _ = OrderLimits.objects.update_or_create(
        company=company,
        defaults={"most_gal": None, "most_total": None, "most_open": None, **limits},
    )
    return found
