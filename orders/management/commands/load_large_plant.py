"""Load an invented plant of many years, to measure pages on."""

import time
from typing import Any

from django.core.management.base import BaseCommand, CommandError, CommandParser
from django.utils import timezone

from blendshop.errors import DomainError
from orders.demo.large.actions.loading import load_large_plant
from orders.demo.large.size import SIZES


class Command(BaseCommand):
    help = "Load the demo and very many variations of it into an empty database (debug only)."

    def add_arguments(self, parser: CommandParser) -> None:
        parser.add_argument("--size", choices=sorted(SIZES), default="small")

    def handle(self, *args: Any, **options: Any) -> None:
        start = time.monotonic()

        def progress(words: str) -> None:
            self.stdout.write(f"{time.monotonic() - start:6.0f} s  {words}")
            self.stdout.flush()

        try:
            load_large_plant(
                size=SIZES[options["size"]], today=timezone.localdate(), progress=progress
            )
        except DomainError as error:
            raise CommandError(error.message) from error
        progress("done")
