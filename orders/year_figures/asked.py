"""What is asked of the figures, all of it in the address."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import date
from typing import Any, Final

from django import forms
from django.db.models import TextChoices
from django.http import QueryDict
from django.utils.translation import gettext_lazy as _

from blendshop.accounts.models import User
from blendshop.roles import Role, has_role
from orders.year_figures.period import Period, PeriodName, named_period

#: Who sees everybody's figures; a rep sees those of its own quotes.
SEE_ALL: Final = (Role.OFFICE, Role.FORMULATOR)
#: Office and formulator see all, a rep its own; what a figure shows is no business of others.
READERS: Final = (*SEE_ALL, Role.REP)
#: Stands in an address for orders that have no quote and so no rep.
NOBODY: Final = 0


class Question(TextChoices):
    MARGIN = "margin", _("Margin")
    VOLUME = "volume", _("Gallons and tons")
    QUOTES = "quotes", _("Quotes won")
    ON_TIME = "on-time", _("On time")
    COSTS = "costs", _("Quoted and actual cost")
    COVER = "cover", _("Stock cover")
    STOCK_COSTS = "stock-costs", _("Stock costs")


class By(TextChoices):
    CUSTOMER = "customer", _("Customer")
    BLEND = "blend", _("Blend")
    REP = "rep", _("Rep")
    STATE = "state", _("State")
    MONTH = "month", _("Month")
    RECORD = "each", _("One by one")


class Counted(TextChoices):
    SHIPPED = "shipped", _("shipped")
    ORDERED = "ordered", _("ordered")


#: What a rep is not asked to answer for: it sees quoted money, as on the pages of its orders.
OF_ALL_ALONE: Final = frozenset({Question.COSTS, Question.COVER, Question.STOCK_COSTS})
OF_STOCKS: Final = frozenset({Question.COVER, Question.STOCK_COSTS})
#: Questions whose answer depends on which orders are counted.
OF_ORDERS: Final = frozenset({Question.MARGIN, Question.VOLUME, Question.COSTS})


class AskedForm(forms.Form):
    """The address; whatever is wrong or missing has its usual value."""

    question = forms.ChoiceField(choices=Question.choices, required=False)
    period = forms.ChoiceField(choices=PeriodName.choices, required=False)
    first = forms.DateField(
        label=_("From"),
        required=False,
        widget=forms.DateInput(attrs={"type": "date"}, format="%Y-%m-%d"),
    )
    last = forms.DateField(
        label=_("To"),
        required=False,
        widget=forms.DateInput(attrs={"type": "date"}, format="%Y-%m-%d"),
    )
    by = forms.ChoiceField(choices=By.choices, required=False)
    counted = forms.ChoiceField(choices=Counted.choices, required=False)
    customer = forms.IntegerField(required=False, min_value=1)
    blend = forms.IntegerField(required=False, min_value=1)
    rep = forms.IntegerField(required=False, min_value=NOBODY)
    state = forms.RegexField(r"\A[A-Z]{2}\Z", required=False)
    stock = forms.CharField(required=False, max_length=20)
    sort = forms.RegexField(r"\A-?[a-z_0-9]{1,30}\Z", required=False)

    def clean(self) -> dict[str, Any]:
        found: dict[str, Any] = super().clean() or self.cleaned_data
        if found.get("period") == PeriodName.DAYS:
            first, last = found.get("first"), found.get("last")
            if first is None or last is None:
                self.add_error("first" if first is None else "last", _("Give both days."))
            elif last < first:
                self.add_error("last", _("The last day lies before the first."))
        return found


@dataclass(frozen=True, slots=True)
class Asked:
    """One question over a period; ``rep`` is the id of whose quotes count, None for all."""

    question: Question
    period: Period
    by: By
    counted: Counted
    customer: int | None
    blend: int | None
    rep: int | None
    state: str
    stock: str
    sort: str

    @property
    def is_of_orders(self) -> bool:
        return self.question in OF_ORDERS

    @property
    def is_of_stocks(self) -> bool:
        return self.question in OF_STOCKS


def questions_of(user: User) -> tuple[Question, ...]:
    """What a person may ask."""
    sees_all = has_role(user, *SEE_ALL)
    return tuple(each for each in Question if sees_all or each not in OF_ALL_ALONE)


def read_asked(form: AskedForm, user: User, today: date) -> Asked:
    """What an address asks, of those questions that this person may ask."""
    form.is_valid()
    typed: Mapping[str, Any] = form.cleaned_data
    question = Question(typed.get("question") or Question.MARGIN)
    if question not in questions_of(user):
        question = Question.MARGIN
    return Asked(
        question=question,
        period=_period(typed, today),
        by=By(typed.get("by") or By.CUSTOMER),
        counted=Counted((question in OF_ORDERS and typed.get("counted")) or Counted.SHIPPED),
        customer=typed.get("customer"),
        blend=typed.get("blend"),
        rep=typed.get("rep") if has_role(user, *SEE_ALL) else user.pk,
        state=typed.get("state") or "",
        stock=typed.get("stock") or "",
        sort=typed.get("sort") or "",
    )


def address(query: QueryDict, **changes: object) -> str:
    """The same question with something else about it; None takes a word out."""
    changed = query.copy()
    changed.pop("page", None)
    for name, value in changes.items():
        if value is None:
            changed.pop(name, None)
        else:
            changed[name] = str(value)
    return f"?{changed.urlencode()}"


def _period(typed: Mapping[str, Any], today: date) -> Period:
    name = PeriodName(typed.get("period") or PeriodName.LAST_12_MONTHS)
    if name != PeriodName.DAYS:
        return named_period(name, today)
    first, last = typed.get("first"), typed.get("last")
    if first is None or last is None:
        return named_period(PeriodName.LAST_12_MONTHS, today)
    return Period(name, first, last)
