"""Close quotes whose last day has passed; for the nightly schedule, safe to run twice."""

from typing import Any

from django.core.management.base import BaseCommand
from django.utils import timezone

from orders.quoting.actions.quotes import expire_quotes


class Command(BaseCommand):
    help = "Mark sent quotes as expired once their last day has passed."

    def handle(self, *args: Any, **options: Any) -> None:
        closed = expire_quotes(acting_user=None, today=timezone.localdate())
        self.stdout.write(f"Expired: {', '.join(closed) or 'none'}")
