"""Finding saved blends."""

from django.db.models import OuterRef, Q, Subquery

from blendshop.accounts.models import Company, User
from blendshop.accounts.search import named
from formulas.models import Blend, BlendRevision
from formulas.models.blend import BlendQuerySet


def search_blends(
    user: User, *, words: str = "", company: Company | None = None, archived: bool = False
) -> BlendQuerySet:
    """Blends the user may see; ``words`` is looked for in name, grade and customer."""
    blends = Blend.objects.visible_to(user).filter(archived=archived)
    if company is not None:
        blends = blends.filter(company=company)
    if words:
        newest = BlendRevision.objects.filter(blend=OuterRef("blend"), for_order_only=False)
        # The grade of the newest revision; only those that fit are asked whether they are it.
        by_grade = BlendRevision.objects.filter(
            grade__icontains=words, number=Subquery(newest.order_by("-number").values("number")[:1])
        )
        blends = blends.filter(
            Q(name__icontains=words)
            | Q(company__in=named(Company.objects.all(), words))
            | Q(pk__in=by_grade.values("blend"))
        )
    return blends
