"""``manage.py draftlabel REQUEST.json [--json]``: the label-draft contract on the command line.

Exit status 0 drafted, 2 bad request (its fields on standard error).
"""

import json
import sys
from argparse import ArgumentParser
from typing import Any

from django.core.management.base import BaseCommand

from blendshop.errors import BadInput
from formulas.label_drafts import label_draft
from formulas.management.label_tables import draft_table
from formulas.management.request_file import BAD_REQUEST, complaint, read_request_file


class Command(BaseCommand):
    help = "Draft a label from a JSON request; exit status 2 for a bad request."
    requires_system_checks = ()

    def add_arguments(self, parser: ArgumentParser) -> None:
        parser.add_argument("request", help="a JSON file, or - for standard input")
        parser.add_argument("--json", action="store_true", help="print the answer as JSON")

    def handle(self, *args: Any, **options: Any) -> None:
        try:
            answer = label_draft(read_request_file(options["request"]))
        except BadInput as error:
            self.stderr.write(complaint(error))
            sys.exit(BAD_REQUEST)
        if options["json"]:
            self.stdout.write(json.dumps(answer, indent=2, ensure_ascii=False))
        else:
            self.stdout.write(draft_table(answer))
