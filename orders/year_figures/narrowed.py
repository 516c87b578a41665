"""What an answer is narrowed to, in words: one customer, blend, rep or state."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

from django.db.models import Model
from django.http import QueryDict
from django.urls import reverse
from django.utils.translation import gettext as _

from blendshop.accounts.models import Company, User
from formulas.models import Blend
from orders.year_figures.asked import NOBODY, Asked, By, address


@dataclass(frozen=True, slots=True)
class Narrowing:
    """``page`` is that of the customer or blend itself, empty where there is none for the reader;
    ``without`` the address of the same question for all, empty where it stays."""

    title: str
    name: str
    page: str
    without: str


def narrowings(
    asked: Asked, query: QueryDict, user: User, *, opens_customers: bool
) -> list[Narrowing]:
    """Each one word of the address that leaves something out."""
    found = []
    if asked.customer is not None:
        page = reverse("customer_detail", args=[asked.customer]) if opens_customers else ""
        name = _name(Company.objects, asked.customer)
        found.append(_one(By.CUSTOMER, name, query, page))
    if asked.blend is not None:
        page = reverse("blend_detail", args=[asked.blend])
        found.append(_one(By.BLEND, _name(Blend.objects, asked.blend), query, page))
    if asked.rep == NOBODY:
        found.append(_one(By.REP, _("ordered again, without a quote"), query))
    elif asked.rep is not None:
        is_own = asked.rep == user.pk and "rep" not in query
        name = _("your own quotes") if is_own else _name(User.objects, asked.rep)
        narrowing = _one(By.REP, name, query)
        found.append(Narrowing(narrowing.title, name, "", "") if is_own else narrowing)
    if asked.state:
        found.append(_one(By.STATE, asked.state, query))
    return found


def _one(by: By, name: str, query: QueryDict, page: str = "") -> Narrowing:
    without = address(query, **{by.value: None})
    return Narrowing(str(by.label), name, page, without)


def _name(rows: Any, pk: int) -> str:
    row: Model | None = rows.filter(pk=pk).first()
    return _("not known") if row is None else str(getattr(row, "name", row))
