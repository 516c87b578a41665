"""``manage.py gather_messages``: the texts of the translated rooms into the Spanish catalogue."""

from typing import Any

from django.core.management.base import BaseCommand

from blendshop.languages.messages import PO, brought_up_to_date, catalogue, is_translated, keep


class Command(BaseCommand):
    help = "Put the texts of the translated rooms into the Spanish catalogue, and say what is new."

    def handle(self, *args: Any, **options: Any) -> None:
        now = brought_up_to_date(catalogue())
        keep(now)
        missing = [each for each in now if each.id and not is_translated(each)]
        self.stdout.write(f"{PO}: {len(now)} texts, {len(missing)} without their Spanish.")
        for each in missing:
            self.stdout.write(f"  {each.id}")
