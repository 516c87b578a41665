"""Repricing as long work: any number of workers share its parts."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

from django.urls import reverse
from django.utils import timezone
from django.utils.translation import gettext_lazy as _

from blendshop.long_work.kinds import Assignment, Found, Kind, Outcome, register
from blendshop.roles import SEES_COST
from formulas.repricing.standing import KIND
from formulas.repricing.wording import repriced_words
from orders.repricing.actions import do_part, finish


def _part(assignment: Assignment, number: int) -> Any:
    return do_part(assignment.arguments["parts"][number - 1], timezone.localdate())


def _combine(_assignment: Assignment, answers: Sequence[Any]) -> Outcome:
    return Outcome(says=repriced_words(finish(timezone.localdate(), answers)))


def _leads_to(_work: Found) -> str:
    return reverse("open_quote_margins")


REPRICING = register(
    Kind(
        name=KIND,
        title=_("Blends and open quotes at today's costs"),
        roles=SEES_COST,
        part=_part,
        combine=_combine,
        is_shared=True,
        leads_to=_leads_to,
        begun_at="stock_costs",
    )
)
