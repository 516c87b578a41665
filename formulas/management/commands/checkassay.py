"""``manage.py checkassay``: exit status 0 nothing deficient, 1 deficient, 2 bad request."""

from typing import Any

from formulas.answers.assay import AssayAnswer
from formulas.contracts.assay_checks import assay_check
from formulas.management.label_tables import assay_table
from formulas.management.request_command import FINE, RequestCommand

DEFICIENT = 1


class Command(RequestCommand[AssayAnswer]):
    help = "Check an assay from a JSON request; exit status 1 deficient, 2 bad request."

    def answer(self, body: Any) -> AssayAnswer:
        return assay_check(body)

    def table(self, answer: AssayAnswer) -> str:
        return assay_table(answer)

    def exit_status(self, answer: AssayAnswer) -> int:
        return DEFICIENT if answer.deficient else FINE
