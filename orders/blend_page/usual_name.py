"""What a blend is called that nobody gave a name."""

from __future__ import annotations

from collections.abc import Collection
from itertools import count

from django.utils.translation import gettext as _

from blendshop.accounts.models import Company
from blendshop.figures.readers import reader
from formulas.models import Blend


def usual_name(
    grade: str, slow_pct: float | None, company: Company | None, besides: Collection[str] = ()
) -> str:
    """By grade and slow share, numbered where the company has that, or it is among ``besides``."""
    name = grade
    if slow_pct:
        slow = reader().percent(slow_pct, 0)
        name = _("{grade}, {slow} slow").format(grade=grade, slow=slow)
    named = Blend.objects.filter(company=company, name__startswith=name)
    taken = {*besides, *named.values_list("name", flat=True)}
    tries = (name if number == 1 else f"{name} ({number})" for number in count(1))
    return next(each for each in tries if each not in taken)
