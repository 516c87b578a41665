"""``manage.py check_ledger``: prove that every lot's balance is the sum of its movements."""

from typing import Any

from django.core.management.base import BaseCommand, CommandError

from orders.inventory.levels import ledger_differences
from orders.models import StockLot
from orders.models.pounds import written_pounds


class Command(BaseCommand):
    help = "Compare each lot's balance with the sum of its movements; fails on a difference."

    def handle(self, *_args: Any, **_options: Any) -> None:
        differences = ledger_differences()
        for lot, moved in differences:
            self.stderr.write(
                f"{lot.code}: balance {written_pounds(lot.on_hand_lb)} lb,"
                f" movements {written_pounds(moved)} lb"
            )
        if differences:
            raise CommandError(f"{len(differences)} lots do not add up.")
        self.stdout.write(f"{StockLot.objects.count()} lots add up.")
