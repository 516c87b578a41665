"""Chosen quotes withdrawn, drafted anew or mailed about by the workers, each done once."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

from django.db import transaction
from django.urls import reverse
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy

from blendshop.accounts.models import User
from blendshop.errors import BadInput, DomainError
from blendshop.long_work.actions.beginning import begin
from blendshop.long_work.kinds import Assignment, Found, Kind, Outcome, register
from blendshop.long_work.models import LongWork
from orders.cost_change.actions.quotes import ACTS_ON_QUOTES, Deed, act_on_quote
from orders.models import CostChange, Quote

KIND = "cost-change-quotes"


def _part(assignment: Assignment, number: int) -> dict[str, Any]:
    asked = assignment.arguments
    quote = Quote.objects.get(number=asked["quotes"][number - 1])
    change = CostChange.objects.get(pk=asked["change"])
    answer: dict[str, Any] = {"quote": quote.number, "company": str(quote.company)}
    try:
        said = act_on_quote(
            deed=Deed(asked["deed"]),
            quote=quote,
            change=change,
            acting_user=assignment.asker(),
            words=asked["words"],
        )
    except DomainError as refused:
        return {**answer, "is_done": False, "says": refused.message}
    return {**answer, "is_done": True, "says": said}


def _combine(assignment: Assignment, answers: Sequence[Any]) -> Outcome:
    done = sum(each["is_done"] for each in answers)
    said = _("{done} of {all} quotes done.").format(done=done, all=len(answers))
    change = assignment.arguments["change"]
    return Outcome(
        says=said,
        result={"change": change, "deed": assignment.arguments["deed"], "quotes": list(answers)},
    )


def _leads_to(work: Found) -> str:
    return reverse("cost_change_done", args=[work.result["change"], work.pk])


QUOTE_WORK = register(
    Kind(
        name=KIND,
        title=gettext_lazy("Quotes and new costs"),
        roles=frozenset(ACTS_ON_QUOTES),
        part=_part,
        combine=_combine,
        in_one_transaction=True,
        is_shared=True,
        leads_to=_leads_to,
        begun_at="cost_change_list",
    )
)


def begin_quote_work(
    *,
    deed: Deed,
    change: CostChange,
    quotes: Sequence[Quote],
    words: str,
    acting_user: User,
    once: str,
) -> LongWork:
    """Put it on the queue, a part for each quote; with the same ``once`` it is the same work."""
    if not quotes:
        raise BadInput(_("Choose at least one quote."))
    if not words.strip() and deed is not Deed.DRAFT:
        raise BadInput(_("Say something to the customers."), fields={"words": _("Give a text.")})
    with transaction.atomic():
        return begin(
            QUOTE_WORK,
            asked_by=acting_user,
            arguments={
                "change": change.pk,
                "deed": deed.value,
                "words": words.strip(),
                "quotes": [quote.number for quote in quotes],
            },
            parts=len(quotes),
            same_as=f"{once} {deed} {change.pk}",
        )
