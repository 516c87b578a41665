"""Load the invented plant and print who can sign in."""

from typing import Any

from django.core.management.base import BaseCommand, CommandError, CommandParser
from django.utils import timezone

from blendshop.errors import DomainError
from orders.demo.actions import load_demo
from orders.demo.plant import PASSWORD
from orders.demo.year.actions.loading import load_demo_year


class Command(BaseCommand):
    help = "Load the demo (an invented plant and customers) once and print its logins."

    def add_arguments(self, parser: CommandParser) -> None:
        parser.add_argument("--address", default="http://127.0.0.1:8000")
        parser.add_argument(
            "--year",
            action="store_true",
            help="With fourteen months behind it; only into a database without quotes.",
        )

    def handle(self, *args: Any, **options: Any) -> None:
        try:
            load = load_demo_year if options["year"] else load_demo
            logins = load(today=timezone.localdate())
        except DomainError as error:
            raise CommandError(error.message) from error
        self.stdout.write("The demo is an invented plant; its password is " + PASSWORD)
        for login in logins:
            self.stdout.write(f"  {login.role:<42} {login.email}")
        self.stdout.write(f"Open {options['address']}")
