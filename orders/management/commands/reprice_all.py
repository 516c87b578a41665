"""manage.py reprice_all: every saved blend and open quote at today's costs."""

from typing import Any

from django.core.management.base import BaseCommand, CommandParser

from formulas.repricing.wording import repriced_words
from orders.repricing.actions import ask_for_repricing, reprice_here


class Command(BaseCommand):
    help = "Price all saved blends and open quotes at today's costs."

    def add_arguments(self, parser: CommandParser) -> None:
        parser.add_argument(
            "--workers", action="store_true", help="Leave it to the workers and return at once."
        )

    def handle(self, *args: Any, **options: Any) -> None:
        if not options["workers"]:
            self.stdout.write(repriced_words(reprice_here()))
        elif ask_for_repricing(asked_by=None) is None:
            self.stdout.write("A repricing waits for its turn already.")
        else:
            self.stdout.write("The workers will do it.")
