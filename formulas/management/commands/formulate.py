"""``manage.py formulate``: exit status 0 solved, 1 out of reach, 2 bad request, 3 failed."""

from typing import Any

from django.utils import timezone

from formulas.contracts.formulation import SOLVED, catalogue_for, formulate
from formulas.management.answer_table import answer_table
from formulas.management.request_command import FINE, RequestCommand

OUT_OF_REACH = 1


class Command(RequestCommand):
    help = "Formulate a blend from a JSON request; exit status 0 solved, 1 out of reach, 2 bad."

    def answer(self, body: Any) -> dict[str, Any]:
        return formulate(body, catalogue=catalogue_for(body, timezone.localdate())).answer

    def table(self, answer: dict[str, Any]) -> str:
        return answer_table(answer)

    def exit_status(self, answer: dict[str, Any]) -> int:
        return FINE if answer["status"] == SOLVED else OUT_OF_REACH
