"""Make the first person of the office, or print the link of the page that does."""

from getpass import getpass
from typing import Any

from django.core.management.base import BaseCommand, CommandError, CommandParser

from blendshop.accounts.actions.first_person import make_office_person
from blendshop.accounts.links import password_link
from blendshop.accounts.set_up import LINK_HOURS, is_nobody_yet, set_up_link
from blendshop.errors import DomainError
from blendshop.roles import STAFF, Role


class Command(BaseCommand):
    help = "Begin with an empty plant: make the first person of the office."

    def add_arguments(self, parser: CommandParser) -> None:
        parser.add_argument("--email", help="the person's address, with which they sign in")
        parser.add_argument("--name", help="the person's name")
        parser.add_argument(
            "--password",
            action="store_true",
            help="ask for the password here instead of printing a link that asks for it",
        )
        parser.add_argument(
            "--roles",
            nargs="+",
            default=[],
            choices=sorted(STAFF - {Role.OFFICE}),
            help="what the person does besides; later only another person of the office gives it",
        )
        parser.add_argument(
            "--page",
            action="store_true",
            help="make nobody; print the link of the set-up page, which makes the first person",
        )

    def handle(self, *args: Any, **options: Any) -> None:
        if options["page"]:
            self._print_page()
            return
        name = options["name"] or input("Name: ")
        email = options["email"] or input("Email address: ")
        password = self._asked_password() if options["password"] else None
        also: list[str] = options["roles"]
        try:
            person = make_office_person(
                name=name, email=email, password=password, also=[Role(each) for each in also]
            )
        except DomainError as error:
            fields = "".join(f"\n  {name}: {words}" for name, words in error.fields.items())
            raise CommandError(f"{error.message}{fields}") from error
        self.stdout.write(f"{person} ({person.email}) is the first person of the office.")
        if also:
            self.stdout.write(f"Also: {', '.join(also)}.")
        if password is None:
            self.stdout.write("To choose a password, good once:")
            self.stdout.write(f"  {password_link(person)}")

    def _print_page(self) -> None:
        if not is_nobody_yet():
            raise CommandError("There are people already: the set-up page is closed for good.")
        self.stdout.write(f"To be the first person, good for {LINK_HOURS} hours and for one:")
        self.stdout.write(f"  {set_up_link()}")

    def _asked_password(self) -> str:
        password = getpass("Password: ")
        if password != getpass("Password again: "):
            raise CommandError("The two passwords are not the same.")
        return password
