"""``manage.py formulate``: exit status 0 solved, 1 out of reach, 2 bad request, 3 failed."""

from typing import Any

from django.utils import timezone

from formulas.answers.answer import Answer, SolvedAnswer
from formulas.contracts.formulation import catalogue_for, formulate
from formulas.management.answer_table import answer_table
from formulas.management.request_command import FINE, RequestCommand

OUT_OF_REACH = 1


class Command(RequestCommand[Answer]):
    help = "Formulate a blend from a JSON request; exit status 0 solved, 1 out of reach, 2 bad."

    def answer(self, body: Any) -> Answer:
        return formulate(body, catalogue=catalogue_for(body, timezone.localdate())).answer

    def table(self, answer: Answer) -> str:
        return answer_table(answer)

    def exit_status(self, answer: Answer) -> int:
        return FINE if isinstance(answer, SolvedAnswer) else OUT_OF_REACH
