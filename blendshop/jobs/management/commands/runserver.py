"""The development server, with a worker beside it (BLENDSHOP_EMBEDDED_WORKER)."""

from typing import Any

from django.conf import settings
from whitenoise.runserver_nostatic.management.commands import runserver as whitenoise

from blendshop.jobs.embedded import start_embedded_worker


class Command(whitenoise.Command):  # type: ignore[misc] # whitenoise has no types
    def inner_run(self, *args: Any, **options: Any) -> None:
        """Only the process that serves comes here; the autoreloader's parent does not."""
        if settings.EMBEDDED_WORKER:
            start_embedded_worker()
        super().inner_run(*args, **options)
