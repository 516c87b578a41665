"""The stock plan is worked out by a worker; the newest one found is what the page shows."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any, Final

from django.db import transaction
from django.db.models import QuerySet
from django.urls import reverse
from django.utils import timezone
from django.utils.translation import gettext_lazy as _

from blendshop.accounts.models import User
from blendshop.long_work.actions.beginning import begin
from blendshop.long_work.kinds import Assignment, Kind, Outcome, register
from blendshop.long_work.models import LongWork
from blendshop.roles import STAFF
from blendshop.snapshot import SnapshotError
from orders.allocation.plan_state import plan_state
from orders.allocation.shown_plan import work_out_plan
from orders.allocation.wording import counts_in_words
from orders.frozen.stock_plan import StockPlan


def _work_out(assignment: Assignment, number: int) -> dict[str, Any]:
    return work_out_plan(timezone.localdate()).to_json()


def _keep(assignment: Assignment, answers: Sequence[Any]) -> Outcome:
    [found] = answers
    return Outcome(says=counts_in_words(StockPlan.from_json(found)), result=found)


STOCK_PLANNING: Final = register(
    Kind(
        name="stock-plan",
        title=_("Stock plan"),
        roles=STAFF,
        part=_work_out,
        combine=_keep,
        is_shared=True,
        leads_to=lambda work: reverse("stock_plan"),
        begun_at="stock_plan",
    )
)


def begin_planning(acting_user: User) -> LongWork:
    """Have the plan of now worked out; who asks meanwhile joins."""
    with transaction.atomic():
        # What was found last is part of the question: things that went one way and back again
        # are planned anew where the plan in between is what was found.
        last = _found().values_list("pk", flat=True).first()
        return begin(
            STOCK_PLANNING,
            asked_by=acting_user,
            arguments={},
            same_as=f"{plan_state(timezone.localdate())} after {last}",
        )


def newest_plan() -> StockPlan | None:
    """The plan found last; None if there is none, or none that this version can read."""
    result = _found().values_list("result", flat=True).first()
    try:
        return None if result is None else StockPlan.from_json(result)
    except SnapshotError:
        return None


def planning_under_way() -> LongWork | None:
    """The planning that has not ended, if there is one."""
    return _works().filter(state__in=LongWork.OPEN).order_by("-pk").first()


def _works() -> QuerySet[LongWork]:
    return LongWork.objects.filter(kind=STOCK_PLANNING.name)


def _found() -> QuerySet[LongWork]:
    return _works().filter(state=LongWork.State.DONE).order_by("-ended_at", "-pk")
