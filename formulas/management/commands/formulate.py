"""``manage.py formulate REQUEST.json [--json]``: the formulation contract on the command line.

Exit status 0 solved, 1 out of reach, 2 bad request (its fields on standard error), 3 when the
solver failed its own checks. With ``--json`` standard output holds the answer and nothing else.
"""

import json
import sys
from argparse import ArgumentParser
from typing import Any

from django.core.management.base import BaseCommand
from django.utils import timezone

from blendshop.errors import BadInput
from formulas.formulation import SOLVED as IS_SOLVED
from formulas.formulation import NoTrustworthyAnswer, catalogue_for, formulate
from formulas.management.answer_table import answer_table
from formulas.management.request_file import (
    BAD_REQUEST,
    FAILED,
    OUT_OF_REACH,
    complaint,
    read_request_file,
)


class Command(BaseCommand):
    help = "Formulate a blend from a JSON request; exit status 0 solved, 1 out of reach, 2 bad."
    requires_system_checks = ()

    def add_arguments(self, parser: ArgumentParser) -> None:
        parser.add_argument("request", help="a JSON file, or - for standard input")
        parser.add_argument("--json", action="store_true", help="print the answer as JSON")

    def handle(self, *args: Any, **options: Any) -> None:
        try:
            body = read_request_file(options["request"])
            catalogue = catalogue_for(body, timezone.localdate())
            formulation = formulate(body, catalogue=catalogue)
        except BadInput as error:
            self.stderr.write(complaint(error))
            sys.exit(BAD_REQUEST)
        except NoTrustworthyAnswer as error:
            self.stderr.write(error.message)
            sys.exit(FAILED)
        if options["json"]:
            self.stdout.write(json.dumps(formulation.answer, indent=2, ensure_ascii=False))
        else:
            self.stdout.write(answer_table(formulation.answer))
        if formulation.status != IS_SOLVED:
            sys.exit(OUT_OF_REACH)
