"""``manage.py restore FILE``: a plant out of a file that back_up wrote."""

from pathlib import Path
from typing import Any

from django.core.management.base import BaseCommand, CommandError, CommandParser

from blendshop.backups.actions.restoring import restore
from blendshop.errors import DomainError


class Command(BaseCommand):
    help = "Put database and media back as a backup holds them; stop web and worker first."
    requires_system_checks = ()

    def add_arguments(self, parser: CommandParser) -> None:
        parser.add_argument("file", type=Path, help="a file that manage.py back_up wrote")
        parser.add_argument(
            "--replace", action="store_true", help="also where a plant stands already: it is lost"
        )

    def handle(self, *args: Any, **options: Any) -> None:
        try:
            done = restore(options["file"], replace=options["replace"])
        except DomainError as error:
            raise CommandError(error.message) from error
        except OSError as error:
            raise CommandError(f"The backup could not be restored: {error}") from error
        manifest = done.manifest
        self.stdout.write(
            f"Restored the plant of {manifest.made_at} (Blendshop {manifest.version}): "
            f"the database and {len(manifest.media)} media files."
        )
        if done.to_migrate:
            self.stdout.write(
                f"The backup is older than this version ({len(done.to_migrate)} migrations): "
                "run manage.py migrate now."
            )
