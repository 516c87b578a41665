"""``manage.py formulate``: exit status 0 solved, 1 out of reach, 2 bad request, 3 failed."""

import json
from argparse import ArgumentParser
from typing import Any

from django.utils import timezone

from blendshop.errors import BadInput
from formulas.answers.answer import SolvedAnswer
from formulas.contracts.formulation import catalogue_for
from formulas.contracts.spoken_formulation import LINE, SpokenFormulation, formulate_spoken
from formulas.management.answer_table import answer_table
from formulas.management.request_command import FINE, RequestCommand

OUT_OF_REACH = 1


class Command(RequestCommand[SpokenFormulation]):
    help = "Formulate a blend from a JSON request; exit status 0 solved, 1 out of reach, 2 bad."

    def add_arguments(self, parser: ArgumentParser) -> None:
        super().add_arguments(parser)
        parser.add_argument(
            "--line", help='the wish in one line, as said: "24-0-3 half slow, 4 totes"'
        )

    def body(self, **options: Any) -> Any:
        line = options[LINE]
        if line is None:
            return super().body(**options)
        request = super().body(**options) if options["request"] else {}
        if not isinstance(request, dict):
            return request
        if LINE in request:
            twice = "Stands in the request too: say it once."
            raise BadInput("The line is given twice.", fields={LINE: twice})
        return request | {LINE: line}

    def answer(self, body: Any) -> SpokenFormulation:
        return formulate_spoken(body, catalogue=catalogue_for(body, timezone.localdate()))

    def table(self, answer: SpokenFormulation) -> str:
        table = answer_table(answer.formulation.answer)
        if answer.understood is None:
            return table
        understood = json.dumps(dict(answer.understood), ensure_ascii=False)
        return f"Understood: {understood}\n\n{table}"

    def exit_status(self, answer: SpokenFormulation) -> int:
        return FINE if isinstance(answer.formulation.answer, SolvedAnswer) else OUT_OF_REACH
