"""A new quote's sheet with saved blends to choose from, before it is known for whom."""

from __future__ import annotations

from collections.abc import Sequence
from itertools import zip_longest

from django.http import QueryDict

from blendshop.accounts.models import User
from formulas.models import BlendRevision
from orders.models import Package, PlantProfile
from orders.quoting.forms import digits
from orders.quoting.sheet import QuoteSheet


def choice_sheet(user: User, revisions: Sequence[BlendRevision], asked: QueryDict) -> QuoteSheet:
    """One line a blend, in the order given; the customer takes one of them.

    ``asked`` may name ``package`` (code), ``quantity`` and ``n_rate`` of each, in that order.
    """
    packages = {package.code: package.pk for package in Package.objects.filter(active=True)}
    said = zip_longest(*(asked.getlist(name) for name in ("package", "quantity", "n_rate")))
    lines = [
        {
            "revision": revision.pk,
            "package": packages.get(code or "", ""),
            "quantity": digits(quantity) or 1,
            "n_rate": rate or "",
            "alternative": True,
        }
        for revision, (code, quantity, rate) in zip(revisions, said, strict=False)
    ]
    head = {"validity_days": PlantProfile.load().quote_validity_days}
    return QuoteSheet(user, head=head, lines=lines)
