"""``manage.py checkassay REQUEST.json [--json]``: the assay-check contract on the command line.

Exit status 0 nothing deficient, 1 a nutrient or the index is deficient, 2 bad request (its
fields on standard error).
"""

import json
import sys
from argparse import ArgumentParser
from typing import Any, Final

from django.core.management.base import BaseCommand

from blendshop.errors import BadInput
from formulas.assay_checks import assay_check
from formulas.management.label_tables import assay_table
from formulas.management.request_file import BAD_REQUEST, complaint, read_request_file

DEFICIENT: Final = 1


class Command(BaseCommand):
    help = "Check an assay from a JSON request; exit status 1 deficient, 2 bad request."
    requires_system_checks = ()

    def add_arguments(self, parser: ArgumentParser) -> None:
        parser.add_argument("request", help="a JSON file, or - for standard input")
        parser.add_argument("--json", action="store_true", help="print the answer as JSON")

    def handle(self, *args: Any, **options: Any) -> None:
        try:
            answer = assay_check(read_request_file(options["request"]))
        except BadInput as error:
            self.stderr.write(complaint(error))
            sys.exit(BAD_REQUEST)
        if options["json"]:
            self.stdout.write(json.dumps(answer, indent=2, ensure_ascii=False))
        else:
            self.stdout.write(assay_table(answer))
        if answer["deficient"]:
            sys.exit(DEFICIENT)
