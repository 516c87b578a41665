"""``manage.py load_base_stocks``: the shipped base stocks, traits and rules into the database."""

from argparse import ArgumentParser
from typing import Any

from django.core.management.base import BaseCommand
from django.utils import timezone

from formulas.stocks.actions.shipped import load_base_stocks, load_demo_costs
from formulas.stocks.actions.system_user import system_user


class Command(BaseCommand):
    help = "Load the shipped base stocks, traits and compatibility rules; safe to repeat."

    def add_arguments(self, parser: ArgumentParser) -> None:
        parser.add_argument(
            "--update",
            action="store_true",
            help="let the fact tables win over what was edited here",
        )
        parser.add_argument(
            "--demo-costs",
            action="store_true",
            help="also give stocks without any cost their invented demo cost",
        )

    def handle(self, *args: Any, **options: Any) -> None:
        user = system_user()
        loaded = load_base_stocks(acting_user=user, update=options["update"])
        self.stdout.write(
            f"Base stocks, traits and rules: {loaded.created} added, {loaded.updated} updated, "
            f"{loaded.kept} left as they were."
        )
        if options["demo_costs"]:
            costs = load_demo_costs(acting_user=user, effective_from=timezone.localdate())
            self.stdout.write(f"Demo costs (invented): {costs.created} added, {costs.kept} kept.")
