"""Finding saved blends."""

from django.db.models import Q

from blendshop.accounts.models import Company, User
from formulas.models import Blend
from formulas.models.blend import BlendQuerySet


def search_blends(
    user: User, *, words: str = "", company: Company | None = None, archived: bool = False
) -> BlendQuerySet:
    """Blends the user may see; ``words`` is looked for in name, grade and customer."""
    blends = Blend.objects.visible_to(user).with_latest().filter(archived=archived)
    if company is not None:
        blends = blends.filter(company=company)
    if words:
        blends = blends.filter(
            Q(name__icontains=words)
            | Q(company__name__icontains=words)
            | Q(latest_grade__icontains=words)
        )
    return blends
