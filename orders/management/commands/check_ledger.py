"""``manage.py check_ledger``: prove that every lot's balance is the sum of its movements."""

from typing import Any

from django.core.management.base import BaseCommand, CommandError

from blendshop.figures.readers import house
from orders.inventory.levels import ledger_differences
from orders.models import StockLot


class Command(BaseCommand):
    help = "Compare each lot's balance with the sum of its movements; fails on a difference."

    def handle(self, *_args: Any, **_options: Any) -> None:
        differences = ledger_differences()
        for lot, moved in differences:
            self.stderr.write(
                f"{lot.code}: balance {house().weighed(lot.on_hand_lb)},"
                f" movements {house().weighed(moved)}"
            )
        if differences:
            raise CommandError(f"{len(differences)} lots do not add up.")
        self.stdout.write(f"{StockLot.objects.count()} lots add up.")
