"""For somebody of the office whose phone and codes are lost, when nobody else is there to do it."""

from typing import Any

from django.core.management.base import BaseCommand, CommandError, CommandParser

from blendshop.accounts.actions.way_in import remove_second_factor
from blendshop.accounts.models import User


class Command(BaseCommand):
    help = "Remove a person's second factor and end their sessions; they set one up anew."

    def add_arguments(self, parser: CommandParser) -> None:
        parser.add_argument("email", help="the address the person signs in with")

    def handle(self, *args: Any, **options: Any) -> None:
        person = User.objects.filter(email__iexact=options["email"]).first()
        if person is None:
            raise CommandError(f"Nobody signs in with {options['email']}.")
        remove_second_factor(acting_user=None, person=person)
        self.stdout.write(f"{person} sets up a second factor at the next sign-in.")
