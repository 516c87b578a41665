"""``manage.py planload``: exit status 0 planned, 1 out of reach, 2 bad request, 3 failed."""

from typing import Any

from django.utils import timezone

from formulas.contracts.formulation import catalogue_for
from formulas.contracts.load_plans import LoadPlan, plan_load
from formulas.management.load_table import load_table
from formulas.management.request_command import FINE, RequestCommand

OUT_OF_REACH = 1


class Command(RequestCommand[LoadPlan]):
    help = "Plan a tank load from a JSON request; exit status 0 planned, 1 out of reach, 2 bad."

    def answer(self, body: Any) -> LoadPlan:
        return plan_load(body, catalogue=catalogue_for(body, timezone.localdate()))

    def table(self, answer: LoadPlan) -> str:
        return load_table(answer)

    def exit_status(self, answer: LoadPlan) -> int:
        return OUT_OF_REACH if answer.load is None else FINE
