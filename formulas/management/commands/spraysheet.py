"""``manage.py spraysheet``: exit status 0 answered, 2 bad request."""

from typing import Any

from formulas.answers.spray import SprayAnswer
from formulas.contracts.formulation import spray_sheet
from formulas.management.answer_table import spray_table
from formulas.management.request_command import RequestCommand


class Command(RequestCommand[SprayAnswer]):
    help = "Work out a spray sheet from a JSON request; exit status 2 for a bad request."

    def answer(self, body: Any) -> SprayAnswer:
        return spray_sheet(body)

    def table(self, answer: SprayAnswer) -> str:
        return spray_table(answer)
