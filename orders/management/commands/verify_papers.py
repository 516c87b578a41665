"""Check that every issued paper is still what it was."""

from typing import Any

from django.core.management.base import BaseCommand, CommandError

from orders.models import Paper
from orders.portal.stored_papers import differences


class Command(BaseCommand):
    help = (
        "Recompute the digest of every issued paper and draw it again from its snapshot."
        " Exits with status 1 when anything differs."
    )

    def handle(self, *args: Any, **options: Any) -> None:
        checked = wrong = 0
        for paper in Paper.objects.select_related("quote", "batch").order_by("pk").iterator():
            checked += 1
            for difference in differences(paper):
                wrong += 1
                self.stderr.write(f"Paper {paper.pk} ({paper}): {difference}.")
        self.stdout.write(f"{checked} papers checked.")
        if wrong:
            raise CommandError(f"{wrong} differences found.")
